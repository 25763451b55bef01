import { describe, expect, it } from 'vitest'
import { factors, likely, linear, offWords } from './ranges'

describe('a linear axis', () => {
  it('holds every value within it, with a few round marks', () => {
    const axis = linear([19.4, 24.1, 22.8])
    expect(axis.marks).toEqual([20, 21, 22, 23, 24])
    for (const value of [19.4, 24.1, ...axis.marks]) {
      expect(axis.at(value)).toBeGreaterThan(0)
      expect(axis.at(value)).toBeLessThan(1)
    }
    expect(axis.at(24.1)).toBeGreaterThan(axis.at(19.4))
  })
  it('stands where all values are one', () => {
    const axis = linear([20, 20])
    expect(axis.at(20)).toBeCloseTo(0.5)
    expect(axis.marks.length).toBeGreaterThan(0)
    expect(axis.marks.length).toBeLessThan(8)
  })
})

describe('an axis of factors', () => {
  it('puts half and double equally far from one', () => {
    const axis = factors([0.5, 2])
    expect(axis.at(1)).toBeCloseTo(0.5)
    expect(axis.at(0.5)).toBeCloseTo(1 - axis.at(2))
    expect(axis.marks).toContain(1)
  })
  it('ends somewhere, and stays on the strip', () => {
    const axis = factors([0, -3, 400])
    expect(axis.to).toBe(5)
    expect(axis.at(400)).toBe(1)
    expect(axis.at(0)).toBe(0)
  })
})

describe('words', () => {
  it('tell an outlier without a colour', () => {
    expect(offWords(-3.4, true)).toBe('3.4 sigma off: an outlier')
    expect(offWords(0.4, false)).toBe('0.4 sigma off: fits')
  })
  it('tell a probability', () => {
    expect(likely(0.62)).toBe('likely, 62\u202f%')
    expect(likely(0.098)).toBe('possible, 10\u202f%')
    expect(likely(0.001)).toBe('unlikely, below 1\u202f%')
  })
})
