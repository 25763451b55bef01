// Where everything stands for sticks and phase: the plane's surfaces, and every corner with its arm and what is left.
import type { KinematicsPage, LinkagePage } from '../../lib/generated/pages'
import { armOfThrow } from '../../lib/kinematics/corner'
import { commands, move, prepare, type Mix, type Phase } from '../../lib/kinematics/mixer'
import type { ArmState } from '../../lib/ui/ArmDrawing.svelte'
import type { StickState } from '../../lib/ui/Sticks.svelte'

export interface CornerMotion {
  corner: string
  /** Surface angle, rad, trailing edge down positive. */
  angle: number
  /** Null where the plane file describes no linkage. */
  link: LinkagePage | null
  arm: ArmState | null
  /** s; null without a linkage. */
  pulse: number | null
  /** Servo turn left on the nearer side, rad, and what ends it. */
  left: number | null
  ends: string
}

export interface Motion {
  phase: Phase
  deployment: number
  motor: number
  closed: boolean
  elevator: number
  rudder: number
  corners: CornerMotion[]
  /** By surface, as the drawings want it. */
  angles: Record<string, number>
  turns: Record<string, number>
}

export const CORNERS = ['upper_left', 'upper_right', 'lower_left', 'lower_right'] as const

/** `shifts`: pulse a servo adds by itself, s by corner, so that the radio sends that much less. */
export function motion(
  page: KinematicsPage,
  phase: Phase,
  sticks: StickState,
  crowSwitch: boolean,
  shifts: Record<string, number> = {},
): Motion {
  const mix = page as Mix
  const told = commands(mix, phase, sticks, crowSwitch)
  const prepared = prepare(mix, phase)
  const moved = move(prepared, phase, told.deployment, sticks.aileron)
  const stowed = move(prepared, phase, 0, 0)
  const out = move(prepared, phase, 1, 0)
  const rolled = [-1, 1].map((stick) => move(prepared, phase, told.deployment, stick))
  const corners = CORNERS.filter((corner) => corner in told.ailerons).map((corner): CornerMotion => {
    const link = page.linkages.find((one) => one.corner === corner) ?? null
    const one = moved[corner]
    const ready = prepared.find((item) => item.link.corner === corner)
    if (!link || !one || !ready) {
      return { corner, angle: told.ailerons[corner] ?? 0, link: null, arm: null, pulse: null, left: null, ends: '' }
    }
    const sides = [one.arm - ready.ends.low, ready.ends.high - one.arm] as const
    const near = sides[0] < sides[1] ? 0 : 1
    const roll = rolled.map((each) => each[corner]?.arm ?? one.arm).sort((a, b) => a - b)
    return {
      corner,
      angle: one.throw,
      link,
      arm: {
        turn: one.arm,
        angle: one.throw,
        crow: [stowed[corner]?.arm ?? 0, out[corner]?.arm ?? 0],
        roll: [roll[0] ?? 0, roll[1] ?? 0],
        ends: [ready.ends.low, ready.ends.high],
        held: one.held,
      },
      pulse: one.pulse - (shifts[corner] ?? 0),
      left: one.held ? 0 : sides[near],
      ends: endWords(link)[near],
    }
  })
  const angles: Record<string, number> = {
    elevator_left: told.elevator,
    elevator_right: told.elevator,
    rudder: told.rudder,
  }
  const turns: Record<string, number> = {}
  for (const one of corners) {
    angles[`${one.corner}_aileron`] = one.angle
    if (one.arm) turns[one.corner] = one.arm.turn
  }
  return {
    phase,
    deployment: told.deployment,
    motor: told.motor,
    closed: told.motor < page.closed_below,
    elevator: told.elevator,
    rudder: told.rudder,
    corners,
    angles,
    turns,
  }
}

/** What ends the travel with the arm ahead and aft: a pushing arm lowers the trailing edge with the horn above. */
export function endWords(link: LinkagePage): [string, string] {
  const rising = armOfThrow(link, link.low) <= armOfThrow(link, link.high)
  return rising ? [link.low_words, link.high_words] : [link.high_words, link.low_words]
}

/** Corner as it is said. */
export const cornerWords = (corner: string): string => corner.replace('_', ' ')

export const toDegrees = (angle: number): number => (180 * angle) / Math.PI

/** An angle of a surface with its way. */
export function wayWords(angle: number, ways: [string, string] = ['up', 'down']): string {
  const size = Math.abs(toDegrees(angle))
  return size < 0.05 ? '0.0°' : `${size.toFixed(1)}° ${angle < 0 ? ways[0] : ways[1]}`
}
