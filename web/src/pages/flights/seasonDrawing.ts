// Believed down speed over the season: dates across, speed up, changes as arrows from below.
import { fixed, spread } from '../../lib/format'
import type { SeasonRowPage } from '../../lib/generated/pages'
import { linear } from './ranges'

export interface SeasonDrawing {
  width: number
  height: number
  left: number
  right: number
  bottom: number
  marks: { y: number; text: string }[]
  days: { x: number; text: string; anchor: 'start' | 'end' }[]
  wanted: number | null
  points: { x: number; y: number; low: number; high: number }[]
  changes: { x: number }[]
  way: string
  reading: string
}

/** The day of an ISO date, as it is written. */
export const dayWords = (date: string): string => date.slice(0, 10)

const HEIGHT = 190
const DAY_MS = 86_400_000

/** Rows oldest first, each at its time in days: its day, and in it the order in which things happened. */
function inOrder(newestFirst: readonly SeasonRowPage[]): { t: number; row: SeasonRowPage }[] {
  const days = new Map<number, SeasonRowPage[]>()
  for (const row of [...newestFirst].reverse()) {
    const day = Date.parse(dayWords(row.date)) / DAY_MS
    if (Number.isFinite(day)) days.set(day, [...(days.get(day) ?? []), row])
  }
  return [...days.entries()]
    .sort(([a], [b]) => a - b)
    .flatMap(([day, rows]) => rows.map((row, order) => ({ t: day + order / rows.length, row })))
}

/** Null with fewer than two known speeds: one point is no picture. */
export function drawSeason(rows: readonly SeasonRowPage[], wanted: number | null, width: number): SeasonDrawing | null {
  const timed = inOrder(rows)
  // What is believed stands until something is learned: only what is new is a point.
  const told = timed.flatMap(({ t, row }) => (row.down_m_s === null ? [] : [{ t, day: dayWords(row.date), speed: row.down_m_s }]))
    .filter((one, index, all) => one.speed.value !== all[index - 1]?.speed.value)
  const first = told[0]
  const last = told.at(-1)
  if (first === undefined || last === undefined || told.length < 2) return null
  const axis = linear([
    ...told.flatMap(({ speed }) => [speed.value - (speed.spread ?? 0), speed.value + (speed.spread ?? 0)]),
    ...(wanted === null ? [] : [wanted]),
  ])
  const [left, right, top, bottom] = [44, width - 58, 10, HEIGHT - 24]
  const across = (t: number): number => left + 8 + ((right - left - 16) * (t - first.t)) / (last.t - first.t)
  const y = (speed: number): number => bottom - axis.at(speed) * (bottom - top)
  const points = told.map(({ t, speed }) => ({
    x: across(t),
    y: y(speed.value),
    low: y(speed.value - (speed.spread ?? 0)),
    high: y(speed.value + (speed.spread ?? 0)),
  }))
  const changes = timed
    .filter(({ t, row }) => (row.what === 'change' || row.what === 'part') && t >= first.t && t <= last.t)
    .map(({ t }) => ({ x: across(t) }))
  const said = (one: (typeof told)[number]): string => spread(one.speed.value, one.speed.spread, 'm/s')
  return {
    width,
    height: HEIGHT,
    left,
    right,
    bottom,
    marks: axis.marks.map((mark) => ({ y: y(mark), text: Number.isInteger(mark) ? fixed(mark, 0) : fixed(mark) })),
    days: [
      { x: left, text: first.day, anchor: 'start' },
      ...(last.day === first.day ? [] : [{ x: right, text: last.day, anchor: 'end' as const }]),
    ],
    wanted: wanted === null ? null : y(wanted),
    points,
    changes,
    way: points.map((point, order) => `${order === 0 ? 'M' : 'L'}${point.x.toFixed(1)} ${point.y.toFixed(1)}`).join(''),
    reading: `Down speed believed: ${said(first)} on ${first.day}, ${said(last)} on ${last.day}${wanted === null ? '' : `, wanted ${fixed(wanted)} m/s`}.`,
  }
}
