// Drawings of a recorded flight: height over time, and the side view of one line at its true slope. Down is down.
import { fixed } from '../../../lib/format'
import type { LogPage } from '../../../lib/generated/pages'
import type { Span } from './span'

/** From a value to its place, pixels. */
export type Scale = (value: number) => number

export interface Axis {
  at: Scale
  /** Back from a place to the value. */
  back: (place: number) => number
  ticks: { value: number; place: number; words: string }[]
}

/** Round numbers over a range, about as many as asked. */
export function roundTicks(from: number, to: number, count: number): number[] {
  const span = to - from
  if (!(span > 0)) return [from]
  const rough = span / Math.max(count, 1)
  const ten = 10 ** Math.floor(Math.log10(rough))
  const step = ten * ([1, 2, 5, 10].find((part) => part * ten >= rough) ?? 10)
  const first = Math.ceil(from / step - 1e-9)
  const last = Math.floor(to / step + 1e-9)
  return Array.from({ length: Math.max(last - first + 1, 0) }, (_, k) => (first + k) * step)
}

export function axis(from: number, to: number, low: number, high: number, count: number): Axis {
  const span = to - from || 1
  const at: Scale = (value) => low + ((value - from) / span) * (high - low)
  const values = roundTicks(from, to, count)
  const step = (values[1] ?? 1) - (values[0] ?? 0)
  const digits = Math.max(0, Math.ceil(-Math.log10(step) - 1e-9))
  const ticks = values.map((value) => ({ value, place: at(value), words: fixed(value, digits) }))
  return { at, back: (place) => from + ((place - low) / (high - low || 1)) * span, ticks }
}

/** A path through points, broken where one is missing. */
export function broken(points: readonly ([number, number] | null)[]): string {
  let pen = 'M'
  let path = ''
  for (const point of points) {
    if (point === null) {
      pen = 'M'
      continue
    }
    path += `${pen}${point[0].toFixed(1)} ${point[1].toFixed(1)}`
    pen = 'L'
  }
  return path
}

export const EDGE = { left: 64, right: 12, top: 18, bottom: 40 }

/** Least and most of what is there, with some room; null where nothing is. */
export function rangeOf(values: readonly (number | null | undefined)[], least: number): [number, number] | null {
  let [low, high] = [Infinity, -Infinity]
  for (const value of values) {
    if (value === null || value === undefined) continue
    low = Math.min(low, value)
    high = Math.max(high, value)
  }
  if (low > high) return null
  const room = Math.max(0.06 * (high - low), (least - (high - low)) / 2)
  return [low - room, high + room]
}

export interface HeightDrawing {
  time: Axis
  height: Axis
  path: string
}

/** Height over time within a stretch; null where no height was recorded in it. */
export function heightDrawing(page: LogPage, shown: Span, width: number, height: number): HeightDrawing | null {
  const rows = rowsOf(page, shown)
  const range = rangeOf(rows.map((row) => page.height_m[row]), 10)
  if (range === null) return null
  const across = axis(shown.from, shown.to, EDGE.left, width - EDGE.right, Math.max(width / 90, 2))
  const up = axis(range[0], range[1], height - EDGE.bottom, EDGE.top, Math.max(height / 45, 2))
  const path = broken(
    rows.map((row) => {
      const [at, high] = [page.time_s[row], page.height_m[row]]
      return at === undefined || high === null || high === undefined ? null : [across.at(at), up.at(high)]
    }),
  )
  return { time: across, height: up, path }
}

/** Rows of a stretch, with one on each side so that curves reach its edges. */
function rowsOf(page: LogPage, shown: Span): number[] {
  return page.time_s
    .map((_, row) => row)
    .filter((row) => (page.time_s[row + 1] ?? Infinity) >= shown.from && (page.time_s[row - 1] ?? -Infinity) <= shown.to)
}

export interface SideDrawing {
  along: Axis
  height: Axis
  /** The flight around the line, and the line itself. */
  path: string
  line: string
  /** The slope as fitted, through the middle of the line. */
  slope: string
  middle: [number, number]
}

/** One line seen from the side, metres alike in both directions; null where there are too few places. */
export function sideDrawing(page: LogPage, shown: Span, span: Span, slopeDeg: number, width: number, height: number): SideDrawing | null {
  const places: { time: number; east: number; north: number; up: number }[] = []
  for (const row of rowsOf(page, shown)) {
    const [time, east, north, up] = [page.time_s[row], page.east_m[row], page.north_m[row], page.height_m[row]]
    if (time === undefined || east == null || north == null || up == null) continue
    places.push({ time, east, north, up })
  }
  const within = places.filter(({ time }) => time >= span.from && time <= span.to)
  const [first, last] = [within[0], within.at(-1)]
  if (within.length < 2 || first === undefined || last === undefined) return null
  const heading = headingOf(within, Math.abs(slopeDeg) > 75 ? places : within)
  const flat = places.map((one) => ({
    ...one,
    along: (one.east - first.east) * Math.sin(heading) + (one.north - first.north) * Math.cos(heading),
  }))
  const [ends, heights] = [rangeOf(flat.map((one) => one.along), 10), rangeOf(flat.map((one) => one.up), 10)]
  if (ends === null || heights === null) return null
  const [wide, high] = [width - EDGE.left - EDGE.right, height - EDGE.top - EDGE.bottom]
  const scale = Math.min(wide / (ends[1] - ends[0]), high / (heights[1] - heights[0]))
  const grow = ([low, top]: [number, number], room: number): [number, number] => {
    const more = (room / scale - (top - low)) / 2
    return [low - more, top + more]
  }
  const [a, b] = grow(ends, wide)
  const [c, d] = grow(heights, high)
  const along = axis(a, b, EDGE.left, width - EDGE.right, Math.max(width / 80, 2))
  const up = axis(c, d, height - EDGE.bottom, EDGE.top, Math.max(height / 45, 2))
  const draw = (some: typeof flat): string => broken(some.map((one) => [along.at(one.along), up.at(one.up)]))
  const inner = flat.filter(({ time }) => time >= span.from && time <= span.to)
  const mean = (values: number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length
  const middle: [number, number] = [along.at(mean(inner.map((one) => one.along))), up.at(mean(inner.map((one) => one.up)))]
  const length = 0.62 * Math.hypot(along.at(inner.at(-1)?.along ?? 0) - along.at(inner[0]?.along ?? 0), up.at(last.up) - up.at(first.up))
  const turn = (slopeDeg * Math.PI) / 180
  const [dx, dy] = [Math.max(length, 30) * Math.cos(turn), -Math.max(length, 30) * Math.sin(turn)]
  const slope = broken([
    [middle[0] - dx, middle[1] - dy],
    [middle[0] + dx, middle[1] + dy],
  ])
  return { along, height: up, path: draw(flat), line: draw(inner), slope, middle }
}

/** Direction over ground, rad from north: of the line itself, on a vertical one of the flight around it. */
function headingOf(within: { east: number; north: number }[], around: { east: number; north: number }[]): number {
  const [from, to] = [around[0] ?? within[0], around.at(-1) ?? within.at(-1)]
  if (from === undefined || to === undefined) return 0
  const [east, north] = [to.east - from.east, to.north - from.north]
  return Math.hypot(east, north) < 1e-6 ? 0 : Math.atan2(east, north)
}
