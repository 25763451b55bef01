// The five lines as rays from one point, at their true slope and as long as they are fast.
import { fixed } from '../../lib/format'
import type { QuickLine, QuickPage } from '../../lib/generated/pages'
import { pathOf, type Point, widthOf } from './labels'

const SIZE = 12.5
const STRIP = 9
const OFF = 7
/** The strips begin so far out: near the common point they would lie on each other. */
const INNER = 30

export interface Segment {
  kind: 'airframe' | 'crow' | 'propeller' | 'weight'
  d: string
  words: string
  x: number
  y: number
  turn: number
  anchor: 'start' | 'middle' | 'end'
}

export interface Ray {
  name: string
  d: string
  head: string
  /** Other steady speeds: thin rays beside it. */
  others: string
  segments: Segment[]
  lines: { words: string; strong: boolean; warn: boolean }[]
  x: number
  y: number
  anchor: 'start' | 'middle' | 'end'
  none: boolean
}

export interface LadderDrawing {
  width: number
  height: number
  x: number
  y: number
  /** Length of the wanted speed. */
  wanted: number
  arc: string
  ticks: string
  rays: Ray[]
}

const speedsOf = (line: QuickLine): number[] =>
  line.states.filter((state) => state.stable).map((state) => state.speed_m_s)

/** Speeds of a line, the one most entries end in first. */
export function lineSpeeds(line: QuickLine): number[] {
  const main = line.shares.speed_m_s
  if (main === null) return []
  return [main, ...speedsOf(line).filter((speed) => Math.abs(speed - main) > 0.05)]
}

/** How far the drawing reaches in wanted speeds: whole steps, so that it stays still under the hand. */
export function reachOf(page: QuickPage): number {
  const most = Math.max(1, ...page.lines.flatMap(lineSpeeds).map((speed) => speed / page.wanted_speed_m_s))
  return [1.12, 1.3, 1.5, 1.8, 2.2, 3].find((step) => most <= step) ?? 3
}

export function drawLadder(page: QuickPage, width: number): LadderDrawing {
  const reach = reachOf(page)
  const x = 122
  const long = Math.min((width - x - 12) / reach, (width - x - 98) / (0.707 * reach), 218)
  const y = long * reach + 48
  const height = 2 * y
  const at = (slope: number, r: number, aside = 0): Point => {
    const t = (slope * Math.PI) / 180
    // Aside is to the right of the flight: below a level line, left of a line down.
    return [x + r * Math.cos(t) + aside * Math.sin(t), y - r * Math.sin(t) + aside * Math.cos(t)]
  }
  const arc = Array.from({ length: 61 }, (_, k) => at(-90 + 3 * k, long))
  const rays = page.lines.map((line) => drawRay(line, page.wanted_speed_m_s, long, reach, at))
  const ticks = page.lines
    .map((line) => pathOf([at(line.shares.slope_deg, long, -18), at(line.shares.slope_deg, long, 18)]))
    .join('')
  return { width, height, x, y, wanted: long, arc: pathOf(arc), ticks, rays }
}

function drawRay(
  line: QuickLine,
  wanted: number,
  long: number,
  reach: number,
  at: (slope: number, r: number, aside?: number) => Point,
): Ray {
  const { name, slope_deg: slope, stick_percent, shares_n: shares } = line.shares
  const [main, ...others] = lineSpeeds(line)
  const length = (speed: number): number => Math.min(speed / wanted, reach) * long
  const r = main === undefined ? 0.55 * long : length(main)
  const tip = Math.max(r, ...others.map(length))
  // Names stand beyond the tick as well as beyond the tip: they never lie on either.
  const end = at(slope, Math.max(tip, main === undefined ? 0 : long) + 8)
  const upright = Math.abs(slope) > 80
  const leaning = !upright && Math.abs(slope) > 10
  const stick = `stick ${fixed(stick_percent, 0)} %`
  const lines = [
    {
      words: main === undefined ? 'no steady speed' : `${[main, ...others].map((speed) => fixed(speed)).join(' or ')} m/s`,
      strong: true,
      warn: main === undefined || others.length > 0,
    },
    ...(leaning ? [name, stick] : [`${name}, ${stick}`]).map((words) => ({ words, strong: false, warn: false })),
  ]
  const rise = upright ? (slope > 0 ? -22 : 10) : slope > 10 ? -22 : slope < -10 ? -2 : -30
  // Strips of the upright rays both stand on the left, where there is room for their words.
  const side = slope > 80 ? -1 : 1
  const segments: Segment[] = []
  if (shares && main !== undefined) {
    const parts: { kind: Segment['kind']; n: number }[] = [
      { kind: 'airframe', n: shares.airframe },
      { kind: 'crow', n: shares.crow },
      { kind: 'propeller', n: Math.max(shares.propeller, 0) },
      { kind: 'weight', n: Math.max(-line.shares.weight_along_n, 0) },
    ]
    const sum = parts.reduce((total, part) => total + Math.max(part.n, 0), 0)
    let from = INNER
    for (const { kind, n } of parts) {
      if (n <= 0.005 * sum) continue
      const to = from + (n / sum) * (r - INNER)
      const words = `${kind} ${fixed(n)} N`
      const turn = upright ? 0 : -slope
      const room = upright ? to - from >= 16 : to - from >= widthOf(words, SIZE) + 6
      const [wx, wy] = at(slope, (from + to) / 2, side * (OFF + STRIP + (upright ? 7 : 10)))
      segments.push({
        kind,
        d: pathOf([at(slope, from, side * OFF), at(slope, to, side * OFF), at(slope, to, side * (OFF + STRIP)), at(slope, from, side * (OFF + STRIP))], true),
        words: room ? words : '',
        x: wx,
        y: wy,
        turn,
        anchor: upright ? 'end' : 'middle',
      })
      from = to
    }
  }
  const [hx, hy] = at(slope, r)
  return {
    name,
    d: pathOf([at(slope, 0), [hx, hy]]),
    head: pathOf([at(slope, r), at(slope, r - 11, -4.5), at(slope, r - 11, 4.5)], true),
    others: others
      .map((speed) => pathOf([at(slope, 0, -8 * side), at(slope, length(speed), -8 * side)]) + pathOf([at(slope, length(speed), -8 * side), at(slope, length(speed) - 9, -12 * side), at(slope, length(speed) - 9, -4 * side)], true))
      .join(''),
    segments,
    lines,
    x: upright ? end[0] : leaning ? end[0] + 9 : hx - 14,
    y: end[1] + rise,
    anchor: upright ? 'middle' : leaning ? 'start' : 'end',
    none: main === undefined,
  }
}

/** What the ladder says, in a sentence. */
export function ladderReading(page: QuickPage): string {
  const wanted = page.wanted_speed_m_s
  const off: string[] = []
  const two: string[] = []
  const none: string[] = []
  for (const line of page.lines) {
    const [main, ...others] = lineSpeeds(line)
    if (main === undefined) none.push(line.shares.name)
    else {
      if (Math.abs(main - wanted) >= 0.35)
        off.push(`${line.shares.name} ${fixed(Math.abs(main - wanted))} m/s ${main > wanted ? 'faster' : 'slower'}`)
      if (others.length > 0) two.push(line.shares.name)
    }
  }
  const said: string[] = []
  if (off.length === 0 && none.length === 0) said.push(`All five lines within 0.3 m/s of ${fixed(wanted)} m/s.`)
  else if (off.length > 0) said.push(`Wanted ${fixed(wanted)} m/s: ${off.join(', ')}${off.length + none.length < 5 ? '; the others hold it' : ''}.`)
  if (none.length > 0) said.push(`No steady speed: ${none.join(', ')}.`)
  if (two.length > 0) said.push(`Two speeds possible: ${two.join(', ')}; entry speed decides.`)
  return said.join(' ')
}
