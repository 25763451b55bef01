import { expect, it } from 'vitest'
import type { LogPage } from '../../../lib/generated/pages'
import { axis, broken, heightDrawing, rangeOf, roundTicks, sideDrawing } from './recordingDrawing'

/** A flight down at 45 degrees to the east from 100 m, one place a second. */
function page(count = 11): LogPage {
  const steps = Array.from({ length: count }, (_, k) => k)
  return {
    file: 'a.csv', kind: 'csv', columns: [], choices: [], delimiter: 'comma', notes: [], lines: [], wind: '',
    time_s: steps,
    height_m: steps.map((k) => 100 - 10 * k),
    east_m: steps.map((k) => 10 * k),
    north_m: steps.map(() => 0),
    speed_m_s: steps.map(() => 10),
    throttle_percent: steps.map(() => null),
    shaft_rpm: steps.map(() => null),
  }
}

const points = (path: string): [number, number][] =>
  path.slice(1).split(/[ML]/).map((pair) => pair.split(' ').map(Number) as [number, number])

/** From the first point of a path to its last: right and down. */
function reach(path: string): [number, number] {
  const [first, last] = [points(path)[0], points(path).at(-1)]
  return [(last?.[0] ?? NaN) - (first?.[0] ?? NaN), (last?.[1] ?? NaN) - (first?.[1] ?? NaN)]
}

it('makes round ticks', () => {
  expect(roundTicks(0, 10, 5)).toEqual([0, 2, 4, 6, 8, 10])
  expect(roundTicks(-3, 97, 4)).toEqual([0, 50])
  expect(roundTicks(3, 3, 5)).toEqual([3])
})

it('has a time axis that leads there and back', () => {
  const along = axis(10, 20, 40, 240, 5)
  expect(along.at(15)).toBe(140)
  expect(along.back(along.at(12.34))).toBeCloseTo(12.34, 9)
})

it('tells ticks apart', () => {
  for (const to of [0.25, 3, 40, 1800]) {
    const words = axis(0, to, 0, 500, 5).ticks.map((tick) => tick.words)
    expect(new Set(words).size).toBe(words.length)
    expect(words.length).toBeGreaterThan(2)
  }
  expect(axis(0, 40, 0, 500, 5).ticks[1]?.words).toBe('10')
})

it('breaks a curve where something is missing', () => {
  expect(broken([[0, 0], [1, 1], null, [2, 2]])).toBe('M0.0 0.0L1.0 1.0M2.0 2.0')
})

it('has no range of nothing', () => {
  expect(rangeOf([null, undefined], 1)).toBeNull()
  expect(rangeOf([5, null], 10)).toEqual([0, 10])
})

it('draws height upwards', () => {
  const drawn = heightDrawing(page(), { from: 0, to: 10 }, 400, 200)
  const [first, last] = [points(drawn?.path ?? '')[0], points(drawn?.path ?? '').at(-1)]
  expect(first?.[1]).toBeLessThan(last?.[1] ?? 0)
  expect(heightDrawing({ ...page(), height_m: page().height_m.map(() => null) }, { from: 0, to: 10 }, 400, 200)).toBeNull()
})

it('shows a line of 45 degrees at 45 degrees, whatever the box', () => {
  for (const [width, height] of [[600, 200], [340, 500]] as const) {
    const drawn = sideDrawing(page(), { from: 0, to: 10 }, { from: 2, to: 8 }, -45, width, height)
    for (const path of [drawn?.line ?? '', drawn?.slope ?? '']) {
      const [right, down] = reach(path)
      expect(right).toBeGreaterThan(20)
      expect(down).toBeCloseTo(right, 0)
    }
  }
})

it('has no side view of places that were not recorded', () => {
  const without = { ...page(), east_m: page().east_m.map(() => null) }
  expect(sideDrawing(without, { from: 0, to: 10 }, { from: 2, to: 8 }, -45, 400, 300)).toBeNull()
})
