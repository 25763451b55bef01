// Sticks and phase to what surfaces and motor are told, and what the ailerons do through their linkages.
// The double of evenfall.radio.mixer and evenfall.lines.throws.
import {
  armOfThrow,
  heldArm,
  limits,
  pulseOfArm,
  rollTurn,
  rollWay,
  throwOfArm,
  type Limits,
  type Linkage,
} from './corner'

const RAD = Math.PI / 180

export interface Phase {
  name: string
  crow_live: boolean
  aileron_deg: number
  elevator_deg: number
  rudder_deg: number
  aileron_exponential_percent: number
  elevator_exponential_percent: number
  rudder_exponential_percent: number
  roll_boost_percent: number
}

export type Points = readonly (readonly [number, number])[]

/** A `KinematicsPage` of the server has all of this. */
export interface Mix {
  phases: readonly Phase[]
  curve: Points
  wings: readonly { wing: string; crow: number }[]
  elevator_crow: number
  throttle_curve: Points
  linkages: readonly Linkage[]
}

/** Throttle 0 closed to 1 full; the others -1 to 1: aileron and rudder right, elevator pulled (nose up) positive. */
export interface Sticks {
  throttle: number
  aileron: number
  elevator: number
  rudder: number
}

export interface Commands {
  deployment: number
  motor: number
  /** Angle by corner, trailing edge down positive. */
  ailerons: Record<string, number>
  elevator: number
  /** Trailing edge left positive. */
  rudder: number
}

/** What one corner really does. */
export interface Moved {
  /** Arm angle from square. */
  arm: number
  pulse: number
  throw: number
  /** The arm stands at a limit although more was asked. */
  held: boolean
}

/** Share of the throw at a stick position: x (1 - e) + e x^3. */
export const soften = (stick: number, exponential: number): number =>
  stick * (1 - exponential) + exponential * stick ** 3

/** Straight between points of rising x, level beyond them. */
export function interpolate(points: Points, x: number): number {
  const first = points[0]
  const last = points[points.length - 1]
  if (first === undefined || last === undefined) return 0
  if (x <= first[0]) return first[1]
  for (let place = 1; place < points.length; place += 1) {
    const from = points[place - 1]
    const to = points[place]
    if (from === undefined || to === undefined || x > to[0]) continue
    return ((to[1] - from[1]) / (to[0] - from[0])) * (x - from[0]) + from[1]
  }
  return last[1]
}

/** Deployment 0 to 1: none where the phase has crow off or the crow switch is off. */
export const deploymentOf = (mix: Mix, phase: Phase, throttle: number, crowSwitch = true): number =>
  phase.crow_live && crowSwitch && mix.curve.length > 0 ? interpolate(mix.curve, throttle) : 0

const boostOf = (phase: Phase, deployment: number): number => 1 + (phase.roll_boost_percent / 100) * deployment

/** What every surface and the motor are told, linkages taken as exact. */
export function commands(mix: Mix, phase: Phase, sticks: Sticks, crowSwitch = true): Commands {
  const deployment = deploymentOf(mix, phase, sticks.throttle, crowSwitch)
  const share = soften(sticks.aileron, phase.aileron_exponential_percent / 100)
  const roll = phase.aileron_deg * RAD * share * boostOf(phase, deployment)
  const ailerons: Record<string, number> = {}
  for (const { wing, crow } of mix.wings) {
    ailerons[`${wing}_left`] = deployment * crow + roll
    ailerons[`${wing}_right`] = deployment * crow - roll
  }
  const pull = soften(sticks.elevator, phase.elevator_exponential_percent / 100)
  const turn = soften(sticks.rudder, phase.rudder_exponential_percent / 100)
  return {
    deployment,
    motor: interpolate(mix.throttle_curve, sticks.throttle),
    ailerons,
    elevator: deployment * mix.elevator_crow - phase.elevator_deg * RAD * pull,
    rudder: -phase.rudder_deg * RAD * turn,
  }
}

/** What stays the same while the sticks move: made once for a page and a phase. */
export interface Prepared {
  link: Linkage
  ends: Limits
  crow: number
  turn: number
}

export function prepare(mix: Mix, phase: Phase): Prepared[] {
  return mix.linkages.map((link) => {
    const ends = limits(link)
    const wing = mix.wings.find((one) => link.corner.startsWith(one.wing))
    return { link, ends, crow: wing === undefined ? 0 : wing.crow, turn: rollTurn(link, phase.aileron_deg * RAD, ends) }
  })
}

/** Arms, pulses and ailerons through their linkages: crow and roll add in servo travel, held at the limits. */
export function move(prepared: readonly Prepared[], phase: Phase, deployment: number, aileron: number): Record<string, Moved> {
  const share = soften(aileron, phase.aileron_exponential_percent / 100) * boostOf(phase, deployment)
  const found: Record<string, Moved> = {}
  for (const { link, ends, crow, turn } of prepared) {
    const asked = armOfThrow(link, deployment * crow) + rollWay(link) * share * turn
    const arm = heldArm(ends, asked)
    found[link.corner] = {
      arm,
      pulse: pulseOfArm(link, arm),
      throw: throwOfArm(link, arm),
      held: Math.abs(arm - asked) > 1e-9,
    }
  }
  return found
}

/** Aileron angles as they really are: through the linkage where one is described, as told where none is. */
export function realAngles(mix: Mix, phase: Phase, sticks: Sticks, crowSwitch = true): Record<string, number> {
  const told = commands(mix, phase, sticks, crowSwitch)
  const angles = { ...told.ailerons }
  const moved = move(prepare(mix, phase), phase, told.deployment, sticks.aileron)
  for (const [corner, one] of Object.entries(moved)) angles[corner] = one.throw
  return angles
}
