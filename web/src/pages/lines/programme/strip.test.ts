import { describe, expect, it } from 'vitest'
import { numbersShown, type Strip } from './strip'

const at = (...middles: number[]): Strip => ({
  height: 100,
  x: (time) => time,
  y: (off) => off,
  marks: [],
  band: { top: 0, bottom: 0 },
  figures: middles.map((middle, k) => ({ number: k + 1, from: middle, middle })),
})

describe('numbers over the strip', () => {
  it('all stand where there is room', () => expect([...numbersShown(at(50, 90, 130), 2)].sort()).toEqual([1, 2, 3]))
  it('one too near another is left out', () => expect([...numbersShown(at(50, 58, 90), 3)].sort()).toEqual([1, 3]))
  it('that under the playhead stands before its neighbours', () =>
    expect([...numbersShown(at(50, 58, 66), 2)]).toEqual([2]))
})
