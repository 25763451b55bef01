// One aileron corner: pulse to arm to throw and back, held at its limits. The double of evenfall.linkage.corner.
//
// Arm angles here are from square to the rod, positive where the rod pushes. Pulses in s.
import { forward, inverse, sense, throwAt, type Bar } from './fourbar'

/** A `LinkagePage` of the server has all of this. */
export interface Linkage extends Bar {
  corner: string
  square: number
  centre: number
  offset: number
  direction: number
  servo_gain: number
  pulse_centre: number
  low: number
  high: number
}

export interface Limits {
  low: number
  high: number
}

const clip = (value: number, low: number, high: number): number => Math.min(Math.max(value, low), high)

/** +1 where stick right lowers this aileron (left side), -1 where it raises it. */
export const rollSign = (link: Linkage): number => (link.corner.endsWith('left') ? 1 : -1)

export const armOfPulse = (link: Linkage, pulse: number): number =>
  link.centre + link.direction * link.servo_gain * (pulse - link.pulse_centre)

export const pulseOfArm = (link: Linkage, arm: number): number =>
  link.pulse_centre + (link.direction * (arm - link.centre)) / link.servo_gain

export const throwOfArm = (link: Linkage, arm: number): number => throwAt(link, arm + link.square)

/** Arm angle for a surface angle; held at the dead point beyond reach. */
export const armOfThrow = (link: Linkage, wanted: number): number => inverse(link, wanted).theta - link.square

/** Arm angles between which the corner may move. */
export function limits(link: Linkage): Limits {
  const one = armOfThrow(link, link.low)
  const two = armOfThrow(link, link.high)
  return { low: Math.min(one, two), high: Math.max(one, two) }
}

export const heldArm = (ends: Limits, arm: number): number => clip(arm, ends.low, ends.high)

/** Surface angle at a pulse, held at the limits. */
export const throwOfPulse = (link: Linkage, pulse: number, ends: Limits = limits(link)): number =>
  throwOfArm(link, heldArm(ends, armOfPulse(link, pulse)))

export const pulseOfThrow = (link: Linkage, wanted: number): number => pulseOfArm(link, armOfThrow(link, wanted))

/** Mean of the throws up and down for the same turn either way about an arm angle, held at the limits. */
export function meanThrow(link: Linkage, at: number, turn: number, ends: Limits): number {
  const upper = throwOfArm(link, heldArm(ends, at + turn))
  const lower = throwOfArm(link, heldArm(ends, at - turn))
  return Math.abs(upper - lower) / 2
}

/** Servo turn either way that gives a mean throw; the largest useful turn where none does. */
export function turnForMean(link: Linkage, at: number, wanted: number, ends: Limits): number {
  const most = Math.max(ends.high - at, at - ends.low, 0)
  const gain = (arm: number): number => Math.abs(forward(link, heldArm(ends, arm) + link.square).gain)
  let small = 0
  let large = most
  let turn = clip(wanted / Math.max(gain(at), 0.05), 0, most)
  for (let step = 0; step < 14; step += 1) {
    const over = meanThrow(link, at, turn, ends) - wanted
    if (Math.abs(over) < 1e-12) break
    if (over >= 0) large = turn
    else small = turn
    const ahead = at + turn < ends.high ? gain(at + turn) : 0
    const behind = at - turn > ends.low ? gain(at - turn) : 0
    const next = turn - over / Math.max((ahead + behind) / 2, 1e-9)
    turn = next > small && next < large ? next : 0.5 * (small + large)
  }
  return meanThrow(link, at, most, ends) >= wanted ? turn : most
}

/** Servo turn either way for a roll throw, crow stowed. */
export const rollTurn = (link: Linkage, wanted: number, ends: Limits): number =>
  turnForMean(link, link.offset, wanted, ends)

/** Change of arm angle for stick right. */
export const rollWay = (link: Linkage): number => rollSign(link) * sense(link)
