// Why half motor brake is fickle: torque by the air and torque held, over shaft speed.
import { fixed } from '../../lib/format'
import type { ShaftMeeting, ShaftPicturePage, TorqueCurve } from '../../lib/generated/pages'
import { type Box, holds, overlap, pathOf, type Point, sampled, widthOf, within } from './labels'

export interface ShaftCurve {
  name: string
  kind: 'air' | 'held'
  strong: boolean
  d: string
  words: string
  x: number
  y: number
}

export interface ShaftDrawing {
  height: number
  left: number
  right: number
  top: number
  bottom: number
  curves: ShaftCurve[]
  meetings: { meeting: ShaftMeeting; x: number; y: number; strong: boolean }[]
  xTicks: { at: number; words: string }[]
  yTicks: { at: number; words: string }[]
}

const nice = (most: number, count: number): number => {
  const raw = most / count
  const ten = 10 ** Math.floor(Math.log10(raw))
  return ([1, 2, 2.5, 5, 10].find((step) => step * ten >= raw) ?? 10) * ten
}

export function drawShaft(page: ShaftPicturePage, level: string, width: number): ShaftDrawing {
  const [left, top, right] = [46, 26, width - 14]
  const bottom = top + Math.min(Math.max(width * 0.7, 330), 430)
  const mostRpm = 1.08 * Math.max(...page.meetings.map((m) => m.shaft_rpm), 2000)
  const mostTorque = 1.12 * Math.max(...page.driving.flatMap((curve) => curve.torque_n_m))
  const x = (rpm: number): number => left + ((right - left) * rpm) / mostRpm
  const y = (torque: number): number => bottom - ((bottom - top) * torque) / mostTorque
  const frame: Box = { x: (left + right) / 2, y: (top + bottom) / 2, width: right - left - 6, height: bottom - top - 6 }
  const points = (curve: TorqueCurve): Point[] => {
    const found: Point[] = []
    for (const [k, torque] of curve.torque_n_m.entries()) {
      const rpm = page.shaft_rpm[k] ?? 0
      const before = curve.torque_n_m[k - 1]
      const rpmBefore = page.shaft_rpm[k - 1] ?? 0
      const inside = rpm <= mostRpm && torque >= 0 && torque <= mostTorque
      if (inside) {
        found.push([x(rpm), y(torque)])
        continue
      }
      if (found.length === 0 || before === undefined) continue
      // The last step is cut at the edge of the picture.
      const edge = torque < 0 ? 0 : torque > mostTorque ? mostTorque : torque
      const share = torque === before ? 1 : Math.min((edge - before) / (torque - before), (mostRpm - rpmBefore) / (rpm - rpmBefore))
      found.push([x(rpmBefore + share * (rpm - rpmBefore)), y(before + share * (torque - before))])
      break
    }
    return found
  }
  const lines = [
    ...page.driving.map((curve) => ({ curve, kind: 'air' as const, words: `${curve.name} m/s`, strong: false })),
    ...page.holding.map((curve) => ({
      curve,
      kind: 'held' as const,
      words: `level ${curve.name}`,
      strong: curve.name === level,
    })),
  ].map((line) => ({ ...line, at: points(line.curve) }))
  const meetings = page.meetings.map((meeting) => ({
    meeting,
    x: x(meeting.shaft_rpm),
    y: y(meeting.torque_n_m),
    strong: meeting.level === level,
  }))
  const dense = lines.map((line) => sampled(line.at, 8))
  const taken: Box[] = meetings.map((m) => ({ x: m.x, y: m.y, width: 14, height: 14 }))
  // The chosen level is named first, then the airspeeds, then the other levels.
  const order = lines.map((_, k) => k).sort((a, b) => rank(lines[a]) - rank(lines[b]))
  const spots = new Map<number, Box>()
  for (const k of order) {
    const line = lines[k]
    if (!line) continue
    const wide = widthOf(line.words, 12.5, line.strong) + 6
    let least = 400
    let found: Box | null = null
    for (const [px, py] of dense[k]?.filter((_, n) => n % 2 === 0) ?? [])
      for (const [dx, dy] of [[0, -12], [0, 12], [wide / 2 + 8, 0], [-wide / 2 - 8, 0], [wide / 2 + 4, -12], [-wide / 2 - 4, -12]] as const) {
        const box = { x: px + dx, y: py + dy, width: wide, height: 15 }
        if (!within(box, frame)) continue
        let cost = 0
        for (const other of taken) cost += 3 * overlap(box, other)
        dense.forEach((curve) => {
          for (const point of curve) if (holds(box, point)) cost += 60
        })
        cost += Math.abs(py - frame.y) * 0.04
        if (cost < least) [least, found] = [cost, box]
      }
    if (found) {
      taken.push(found)
      spots.set(k, found)
    }
  }
  const stepX = nice(mostRpm, width < 460 ? 4 : 7)
  const stepY = nice(mostTorque * 1000, 6)
  return {
    height: bottom + 44,
    left,
    right,
    top,
    bottom,
    curves: lines.map((line, k) => ({
      name: line.curve.name,
      kind: line.kind,
      strong: line.strong,
      d: pathOf(line.at),
      words: spots.has(k) ? line.words : '',
      x: spots.get(k)?.x ?? 0,
      y: spots.get(k)?.y ?? 0,
    })),
    meetings,
    xTicks: Array.from({ length: Math.floor(mostRpm / stepX) + 1 }, (_, k) => ({ at: x(k * stepX), words: String(k * stepX) })),
    yTicks: Array.from({ length: Math.floor((mostTorque * 1000) / stepY) + 1 }, (_, k) => ({
      at: y((k * stepY) / 1000),
      words: String(Math.round(10 * k * stepY) / 10),
    })),
  }
}

const rank = (line: { strong: boolean; kind: string } | undefined): number =>
  line?.strong ? 0 : line?.kind === 'air' ? 1 : 2

const at = (page: ShaftPicturePage, level: string): { speed: number; stable: ShaftMeeting[] }[] =>
  page.speeds_m_s.map((speed) => ({
    speed,
    stable: page.meetings.filter((m) => m.level === level && m.stable && Math.abs(m.speed_m_s - speed) < 0.01),
  }))

/** Levels with two stable shaft speeds at one of the airspeeds. */
export const fickleLevels = (page: ShaftPicturePage): string[] =>
  page.holding.map((curve) => curve.name).filter((name) => at(page, name).some(({ stable }) => stable.length > 1))

/** The sentence that says why: the dip of the windmilling curve and what the chosen level does there. */
export function shaftReading(page: ShaftPicturePage, level: string, band: readonly [number, number] | null): string {
  const why =
    'Where the blade stalls the torque of the air dips, so the line of a middling level can meet it twice: two shaft speeds, and the entry speed decides.'
  const twice = at(page, level).filter(({ stable }) => stable.length > 1)
  const first = twice[0]
  if (first) {
    const rpm = first.stable.map((m) => `${(Math.round(m.shaft_rpm / 10) * 10).toFixed(0)} rpm holding ${fixed(-m.thrust_n)} N`).join(' or ')
    return `${why} Level ${level} does at ${fixed(first.speed)} m/s: ${rpm}.`
  }
  const wanted = at(page, level)[Math.floor(page.speeds_m_s.length / 2)]
  const one = wanted?.stable[0]
  const other = fickleLevels(page)
  const mine = one && wanted ? ` Level ${level} meets it once: ${(Math.round(one.shaft_rpm / 10) * 10).toFixed(0)} rpm at ${fixed(wanted.speed)} m/s, holding ${fixed(-one.thrust_n)} N.` : ''
  const between = band && wanted ? ` A setting of ${fixed(band[0], 0)} to ${fixed(band[1], 0)} % meets it twice at ${fixed(wanted.speed)} m/s.` : ''
  return `${why}${mine}${between}${other.length ? ` Twice at one of these airspeeds: level ${other.join(', ')}.` : ''}`
}
