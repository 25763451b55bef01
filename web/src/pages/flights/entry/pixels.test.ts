import { expect, it } from 'vitest'
import { nudged, toBox, toFrame, viewOf } from './pixels'

const FRAME = { width: 1920, height: 1080 }

it('shows a wide frame whole in a high box, bars above and below', () => {
  const view = viewOf({ width: 390, height: 600 }, FRAME)
  expect(view.scale).toBeCloseTo(390 / 1920, 12)
  expect(view.left).toBe(0)
  expect(view.top).toBeCloseTo((600 - (1080 * 390) / 1920) / 2, 9)
  expect(toFrame(view, FRAME, { x: 195, y: 300 })).toEqual({ x: 960, y: 540 })
  expect(toFrame(view, FRAME, { x: 195, y: 10 })).toBeNull()
})

it('shows a high frame whole in a wide box, bars at the sides', () => {
  const frame = { width: 1080, height: 1920 }
  const view = viewOf({ width: 960, height: 480 }, frame)
  expect(view).toEqual({ scale: 0.25, left: 345, top: 0 })
  expect(toFrame(view, frame, { x: 345, y: 480 })).toEqual({ x: 0, y: 1920 })
  expect(toFrame(view, frame, { x: 344, y: 0 })).toBeNull()
})

it('leads there and back at any zoom', () => {
  for (const zoom of [1, 2, 4, 8]) {
    const view = viewOf({ width: 700, height: 390 }, FRAME, zoom, { x: 1500, y: 200 })
    const there = toBox(view, { x: 1480.5, y: 210.25 })
    const back = toFrame(view, FRAME, there)
    expect(back?.x).toBeCloseTo(1480.5, 9)
    expect(back?.y).toBeCloseTo(210.25, 9)
  }
})

it('puts the point into the middle when zoomed, but never shows past an edge', () => {
  const box = { width: 960, height: 540 }
  const middle = viewOf(box, FRAME, 4, { x: 1000, y: 500 })
  expect(toBox(middle, { x: 1000, y: 500 })).toEqual({ x: 480, y: 270 })
  const corner = viewOf(box, FRAME, 4, { x: 0, y: 1080 })
  expect(corner.left).toBe(0)
  expect(toBox(corner, { x: 0, y: 1080 }).y).toBeCloseTo(540, 9)
})

it('keeps a nudge within the frame', () => {
  expect(nudged({ x: 0.4, y: 1079.5 }, -1, 1, FRAME)).toEqual({ x: 0, y: 1080 })
})

it('does not divide by a box that has no size yet', () => {
  expect(viewOf({ width: 0, height: 0 }, FRAME).scale).toBe(1)
})
