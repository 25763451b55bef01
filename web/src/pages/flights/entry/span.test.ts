import { expect, it } from 'vitest'
import { around, keyStep, moved, tenth } from './span'

const SPAN = { from: 10, to: 14 }

it('moves an end and leaves the other', () => {
  expect(moved(SPAN, 'from', 11, 0, 100, 0.5)).toEqual({ from: 11, to: 14 })
  expect(moved(SPAN, 'to', 20, 0, 100, 0.5)).toEqual({ from: 10, to: 20 })
})

it('never crosses the ends or leaves the recording', () => {
  expect(moved(SPAN, 'from', 30, 0, 100, 0.5)).toEqual({ from: 13.5, to: 14 })
  expect(moved(SPAN, 'to', 3, 0, 100, 0.5)).toEqual({ from: 10, to: 10.5 })
  expect(moved(SPAN, 'from', -3, 0, 100, 0.5).from).toBe(0)
  expect(moved(SPAN, 'to', 300, 0, 100, 0.5).to).toBe(100)
})

it('knows the keys of a slider', () => {
  expect(keyStep('ArrowLeft', 0.1, 1)).toBe(-0.1)
  expect(keyStep('PageUp', 0.1, 1)).toBe(1)
  expect(keyStep('a', 0.1, 1)).toBeNull()
})

it('shows some of the flight around a line', () => {
  expect(around(SPAN, 0, 100, 6)).toEqual({ from: 8, to: 16 })
  expect(around({ from: 10, to: 11 }, 0, 100, 6)).toEqual({ from: 7.5, to: 13.5 })
  expect(around(SPAN, 9, 15, 6)).toEqual({ from: 9, to: 15 })
})

it('rounds to what is shown', () => {
  expect(tenth(12.3456)).toBe(12.3)
})
