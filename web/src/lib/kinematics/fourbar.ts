// The planar four-bar from servo arm to aileron horn, exact: the double of evenfall.linkage.fourbar.
//
// Frame: servo axis at the origin, x aft along the chord, n normal to the chord towards the horn's side. The arm's
// angle theta is counted from the normal, positive when its pin moves aft (the rod pushes). Lengths in m, angles in rad.

export interface Bar {
  arm: number
  horn: number
  rod: number
  distance: number
  height: number
  setback: number
  crossed: boolean
  horn_above: boolean
}

export type Reach = 'ok' | 'rod too short' | 'rod too long'

export interface Motion {
  /** Surface angle, trailing edge down positive; held at the dead point where nothing assembles. */
  throw: number
  /** d(throw)/d(theta); 0 where nothing assembles. */
  gain: number
  reach: Reach
  overCentre: boolean
  armLever: number
  hornLever: number
}

/** Pins in the frame above, for drawing. */
export interface Pins {
  arm: [number, number]
  horn: [number, number]
  hinge: [number, number]
}

const side = (bar: Bar): number => (bar.crossed ? -1 : 1)

/** Throw per push: +1 with the horn above, -1 below. */
export const sense = (bar: Bar): number => (bar.horn_above ? 1 : -1)

const hornZero = (bar: Bar): number => Math.asin(bar.setback / bar.horn)

/** acos(level/size) held at its ends. */
function split(level: number, size: number): number {
  const held = Math.min(Math.max(level, -size), size)
  return Math.atan2(Math.sqrt(Math.max((size - held) * (size + held), 0)), held)
}

function hornAngle(bar: Bar, theta: number): { phi: number; reach: Reach } {
  const x = bar.distance - bar.arm * Math.sin(theta)
  const n = -bar.height - bar.arm * side(bar) * Math.cos(theta)
  const size = Math.hypot(x, n)
  const level = (bar.rod * bar.rod - bar.horn * bar.horn - size * size) / (2 * bar.horn)
  const reach = level < -size ? 'rod too short' : level > size ? 'rod too long' : 'ok'
  return { phi: Math.atan2(x, n) - split(level, size), reach }
}

/** Surface angle at an arm angle from the normal. */
export function throwAt(bar: Bar, theta: number): number {
  return sense(bar) * (hornAngle(bar, theta).phi - hornZero(bar))
}

/** Surface angle, gain and dead points at an arm angle from the normal. */
export function forward(bar: Bar, theta: number): Motion {
  const { phi, reach } = hornAngle(bar, theta)
  const rodX = bar.distance + bar.horn * Math.sin(phi) - bar.arm * Math.sin(theta)
  const rodN = -bar.height + bar.horn * Math.cos(phi) - bar.arm * side(bar) * Math.cos(theta)
  const size = Math.hypot(rodX, rodN)
  const armLever = (bar.arm * (rodX * Math.cos(theta) - side(bar) * rodN * Math.sin(theta))) / size
  const hornLever = (bar.horn * (rodX * Math.cos(phi) - rodN * Math.sin(phi))) / size
  const good = reach === 'ok' && Math.abs(hornLever) > 1e-12
  const ratio = good ? armLever / hornLever : 0
  return {
    throw: sense(bar) * (phi - hornZero(bar)),
    gain: sense(bar) * ratio,
    reach,
    overCentre: good && ratio <= 0,
    armLever,
    hornLever,
  }
}

function armAngle(bar: Bar, phi: number, level: (size: number) => number): number {
  const x = bar.distance + bar.horn * Math.sin(phi)
  const n = -bar.height + bar.horn * Math.cos(phi)
  const size = Math.hypot(x, n)
  return Math.atan2(x, side(bar) * n) - split(level(size), size)
}

/** Arm angle from the normal for a surface angle, and whether it can be had without passing a dead point. */
export function inverse(bar: Bar, wanted: number): { theta: number; reachable: boolean } {
  const phi = sense(bar) * wanted + hornZero(bar)
  let inside = true
  const theta = armAngle(bar, phi, (size) => {
    const level = (size * size + bar.arm * bar.arm - bar.rod * bar.rod) / (2 * bar.arm)
    inside = level >= -size && level <= size
    return level
  })
  const motion = forward(bar, theta)
  const works = motion.reach === 'ok' && !motion.overCentre
  return { theta, reachable: inside && works && Math.abs(motion.throw - wanted) < 1e-6 }
}

/** Arm angle from the normal at which the arm is square to its rod with the surface at neutral. */
export function square(bar: Bar): number {
  return armAngle(bar, hornZero(bar), () => bar.arm)
}

/** Where the pins stand at an arm angle from the normal: [x aft, n towards the horn's side], servo axis at [0, 0]. */
export function pins(bar: Bar, theta: number): Pins {
  const { phi } = hornAngle(bar, theta)
  return {
    arm: [bar.arm * Math.sin(theta), bar.arm * side(bar) * Math.cos(theta)],
    horn: [bar.distance + bar.horn * Math.sin(phi), -bar.height + bar.horn * Math.cos(phi)],
    hinge: [bar.distance, -bar.height],
  }
}
