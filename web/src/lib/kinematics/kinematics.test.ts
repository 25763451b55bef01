import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { armOfPulse, armOfThrow, heldArm, limits, meanThrow, pulseOfArm, pulseOfThrow, rollTurn, throwOfPulse, type Linkage } from './corner'
import { forward, inverse, pins, square, throwAt, type Bar } from './fourbar'
import { commands, interpolate, move, prepare, realAngles, soften, type Mix, type Phase } from './mixer'

interface BarVector {
  bar: Bar
  square: number
  forward: [number, number, number, number, number, number, number][]
  inverse: [number, number, number][]
}
interface CornerVector {
  link: Linkage
  limits: [number, number]
  turn: [number, number][]
  pulse: [number, number, number][]
  back: [number, number, number][]
}
interface StickVector {
  phase: number
  crow: boolean
  sticks: [number, number, number, number]
  out: [number, number, number, number]
  told: Record<string, number>
  real: Record<string, number>
}
interface Golden {
  soften: [number, number, number][]
  bars: BarVector[]
  corners: CornerVector[]
  mixes: { name: string; mix: Mix; sticks: StickVector[] }[]
}

const golden = JSON.parse(readFileSync(new URL('./golden.json', import.meta.url), 'utf8')) as Golden
const REACH = ['ok', 'rod too short', 'rod too long']

function near(got: number, wanted: number): void {
  expect(Math.abs(got - wanted)).toBeLessThan(1e-9)
}

describe('four-bar', () => {
  it('has vectors of every kind', () => {
    const rows = golden.bars.flatMap((one) => one.forward)
    expect(golden.bars.length).toBeGreaterThan(100)
    for (const code of [0, 1, 2]) expect(rows.some((row) => row[3] === code)).toBe(true)
    expect(rows.some((row) => row[4] === 1)).toBe(true)
    expect(golden.bars.some((one) => one.bar.crossed)).toBe(true)
    expect(golden.bars.some((one) => one.bar.setback !== 0)).toBe(true)
  })
  it('moves as the Python one', () => {
    for (const { bar, forward: rows, square: zero } of golden.bars) {
      near(square(bar), zero)
      for (const [theta, angle, gain, reach, over, armLever, hornLever] of rows) {
        const motion = forward(bar, theta)
        near(motion.throw, angle)
        near(throwAt(bar, theta), angle)
        expect(Math.abs(motion.gain - gain)).toBeLessThan(1e-9 * Math.max(1, gain * gain))
        expect(REACH.indexOf(motion.reach)).toBe(reach)
        expect(motion.overCentre).toBe(over === 1)
        near(motion.armLever, armLever)
        near(motion.hornLever, hornLever)
      }
    }
  })
  it('finds the arm for a throw', () => {
    for (const { bar, inverse: rows } of golden.bars) {
      for (const [wanted, theta, reachable] of rows) {
        const found = inverse(bar, wanted)
        near(found.theta, theta)
        expect(found.reachable).toBe(reachable === 1)
        if (found.reachable) near(throwAt(bar, found.theta), wanted)
      }
    }
  })
  it('keeps the rod as long as it is', () => {
    for (const { bar, forward: rows } of golden.bars) {
      for (const [theta, , , reach] of rows) {
        if (reach !== 0) continue
        const { arm, horn } = pins(bar, theta)
        near(Math.hypot(horn[0] - arm[0], horn[1] - arm[1]), bar.rod)
      }
    }
  })
})

describe('corner', () => {
  it('turns pulses into throws and back, held at its limits', () => {
    for (const { link, limits: [low, high], pulse: rows, back, turn } of golden.corners) {
      const ends = limits(link)
      near(ends.low, low)
      near(ends.high, high)
      for (const [pulse, arm, angle] of rows) {
        near(armOfPulse(link, pulse), arm)
        near(throwOfPulse(link, pulse), angle)
        near(pulseOfArm(link, armOfPulse(link, pulse)), pulse)
      }
      for (const [angle, arm, pulse] of back) {
        near(armOfThrow(link, angle), arm)
        near(pulseOfThrow(link, angle), pulse)
      }
      for (const [wanted, found] of turn) near(rollTurn(link, wanted, ends), found)
    }
  })
  it('never leaves its limits, and gives the mean throw it is asked for inside them', () => {
    for (const { link } of golden.corners) {
      const ends = limits(link)
      expect(heldArm(ends, 9)).toBe(ends.high)
      expect(heldArm(ends, -9)).toBe(ends.low)
      near(meanThrow(link, link.offset, rollTurn(link, 0.05, ends), ends), 0.05)
    }
  })
})

describe('mixer', () => {
  it('softens the stick as the Python one', () => {
    for (const [stick, exponential, share] of golden.soften) near(soften(stick, exponential), share)
  })
  it('is level beyond the ends of a curve', () => {
    const points: [number, number][] = [[0.2, 1], [0.4, 0.5], [0.6, 0]]
    expect(interpolate(points, 0)).toBe(1)
    expect(interpolate(points, 0.4)).toBe(0.5)
    near(interpolate(points, 0.5), 0.25)
    expect(interpolate(points, 1)).toBe(0)
    expect(interpolate([], 0.3)).toBe(0)
  })
  it('tells every surface what the Python one tells it, and moves it as far', () => {
    let count = 0
    for (const { mix, sticks } of golden.mixes) {
      for (const one of sticks) {
        const phase = mix.phases[one.phase] as Phase
        const [throttle, aileron, elevator, rudder] = one.sticks
        const at = { throttle, aileron, elevator, rudder }
        const told = commands(mix, phase, at, one.crow)
        near(told.deployment, one.out[0])
        near(told.motor, one.out[1])
        near(told.elevator, one.out[2])
        near(told.rudder, one.out[3])
        expect(Object.keys(told.ailerons).sort()).toEqual(Object.keys(one.told).sort())
        for (const [corner, angle] of Object.entries(one.told)) near(told.ailerons[corner] ?? NaN, angle)
        const real = realAngles(mix, phase, at, one.crow)
        expect(Object.keys(real).sort()).toEqual(Object.keys(one.real).sort())
        for (const [corner, angle] of Object.entries(one.real)) near(real[corner] ?? NaN, angle)
        count += 1
      }
    }
    expect(count).toBeGreaterThan(200)
  })
  it('moves four corners in well under a frame', () => {
    const { mix } = golden.mixes[0] as { mix: Mix }
    const phase = mix.phases[1] as Phase
    const prepared = prepare(mix, phase)
    const start = performance.now()
    for (let step = 0; step < 1000; step += 1) move(prepared, phase, step / 1000, Math.sin(step))
    expect((performance.now() - start) / 1000).toBeLessThan(1)
  })
})
