import { describe, expect, it } from 'vitest'
import { page, track } from './sample'
import { momentAt, runsOf } from './track'
import { END, endPoints, frameOf, JUDGES, labelWorst, planeSign, reachOf, runPath, scaleFor, sideBox, sidePoints, widthAt } from './view'

const reach = reachOf(page.box, [track])

/** Numbers of a path's data by twos. */
const pointsOf = (d: string): number[][] => [...d.matchAll(/(-?[\d.]+) (-?[\d.]+)/g)].map((found) => [Number(found[1]), Number(found[2])])

describe('a frame true to scale', () => {
  it('fills the width, holds path and box, and keeps up and across alike', () => {
    const scale = scaleFor(reach.side, 900)
    const frame = frameOf(reach.side, scale)
    expect(frame.width).toBeCloseTo(900)
    expect(widthAt(reach.side, scale)).toBeCloseTo(900)
    for (const [x, y] of sidePoints(track, frame)) {
      expect(x).toBeGreaterThan(0)
      expect(x).toBeLessThan(900)
      expect(y).toBeGreaterThan(0)
      expect(y).toBeLessThan(frame.height)
    }
    const [x0, y0] = frame.at(0, 0)
    const [x1, y1] = frame.at(10, 10)
    expect(x1 - x0).toBeCloseTo(y0 - y1)
  })
  it('draws the sides of the box at their angle from the judges', () => {
    const frame = frameOf(reach.side, 1)
    const [left, , right] = pointsOf(sideBox(page.box, frame, reach.side).sides)
    expect(((right?.[0] ?? 0) - (left?.[0] ?? 0)) / 2).toBeCloseTo(150 * Math.tan(Math.PI / 3), 0)
  })
  it('draws runs that join', () => {
    const points = sidePoints(track, frameOf(reach.side, 1))
    const drawn = runsOf(track, 20).map((run) => pointsOf(runPath(points, run)))
    drawn.slice(1).forEach((run, k) => expect(run[0]).toEqual(drawn[k]?.at(-1)))
  })
  it('puts a run beside the flight to its right', () => {
    const frame = frameOf(reach.side, 1)
    const points = sidePoints(track, frame)
    const [beside] = pointsOf(runPath(points, { kind: 'even', from: 0, to: 1 }, 7))
    expect(beside?.[1]).toBeCloseTo((points[0]?.[1] ?? 0) + 7, 0)
  })
  it('shows a flight line as an upright from the end', () => {
    const frame = frameOf(reach.end, 1)
    expect(new Set(endPoints(track, frame).map(([x]) => x)).size).toBe(1)
  })
})

describe('the plane as drawn', () => {
  it('points its nose along the flight', () => {
    const right = planeSign(momentAt(track, 0), JUDGES, 10)
    expect(right.nose[0]).toBeCloseTo(10)
    const up = planeSign(momentAt(track, 3), JUDGES, 10)
    expect(up.nose[1]).toBeCloseTo(-10)
    const back = planeSign(momentAt(track, 5), JUDGES, 10)
    expect(back.nose[0]).toBeCloseTo(-10)
  })
  it('has its fin up when upright and down when inverted', () => {
    const top = (d: string): number => Math.min(...pointsOf(d).map(([, y]) => y ?? 0))
    const bottom = (d: string): number => Math.max(...pointsOf(d).map(([, y]) => y ?? 0))
    expect(top(planeSign(momentAt(track, 0), JUDGES, 10).fin)).toBeLessThan(-4)
    expect(bottom(planeSign(momentAt(track, 5), JUDGES, 10).fin)).toBeGreaterThan(4)
  })
  it('shows its canopy to the judges when banked towards them', () => {
    const banked = { forward: [1, 0, 0] as const, canopy: [0, -1, 0] as const }
    expect(planeSign(banked, JUDGES, 10).above).toBe(true)
    expect(planeSign({ ...banked, canopy: [0, 1, 0] as const }, JUDGES, 10).above).toBe(false)
  })
  it('has its right wing towards the judges on the way to the right', () => {
    // Rolled right by 45 degrees the wing towards the judges is low: on their side of the view from the end.
    const half = Math.SQRT1_2
    const rolled = { forward: [1, 0, 0] as const, canopy: [0, -half, half] as const }
    const low = pointsOf(planeSign(rolled, END, 10).wing).filter(([, y]) => (y ?? 0) > 1)
    expect(low.length).toBeGreaterThan(0)
    for (const [x] of low) expect(x).toBeLessThan(0)
  })
})

describe('labels of worst places', () => {
  it('stay in the frame and off each other', () => {
    const frame = { x: 450, y: 200, width: 900, height: 400 }
    const one = { figure: 1, time: 1, place: 1, off: 2, words: '+2.0 m/s, closed band', estimated: false }
    const spots = [[300, 200], [306, 204], [300, 196]] as const
    const labels = labelWorst([one, { ...one, figure: 2 }, { ...one, figure: 3, off: -2 }], spots, spots, frame, (words) => 8 * words.length)
    expect(labels).toHaveLength(3)
    expect(labels.map((label) => label.fast)).toEqual([true, true, false])
    labels.forEach((label, k) => {
      expect(label.y).toBeGreaterThan(0)
      expect(label.y).toBeLessThan(400)
      for (const other of labels.slice(k + 1)) expect(Math.abs(label.y - other.y) > 19 || Math.abs(label.x - other.x) > label.width - 1).toBe(true)
    })
  })
})
