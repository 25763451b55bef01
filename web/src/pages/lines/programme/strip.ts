// Speed off the wanted one over time: the whole programme as one strip above its slider.
import type { FlyPage, FlyTrack } from '../../../lib/generated/pages'
import { pathOf, type Point } from '../labels'
import { BAND, beginsAt, endOf, timeAt } from './track'

export interface Strip {
  height: number
  /** Across from a time, down from a speed off. */
  x: (time: number) => number
  y: (off: number) => number
  /** Whole speeds off that are marked. */
  marks: number[]
  band: { top: number; bottom: number }
  /** Figures: where each begins, and the middle for its number. */
  figures: { number: number; from: number; middle: number }[]
}

const STEPS = [1, 2, 5, 10, 20]
/** Room for words at the left, at the top and at the bottom, px. */
export const LEFT = 46
const TOP = 22
const BOTTOM = 8

/** Speeds off beyond which nothing is drawn: what is given up on purpose would flatten the rest. */
function most(page: FlyPage): number {
  const all = [page, ...(page.against ? [page.against] : [])]
  const worst = Math.max(...all.flatMap((one) => one.figures.map((figure) => Math.abs(figure.worst_off_m_s))))
  return Math.max(2 * BAND * page.wanted_speed_m_s, worst) * 1.15
}

export function stripOf(page: FlyPage, width: number, height: number): Strip {
  const end = Math.max(endOf(page.track), 1e-6)
  const reach = most(page)
  const x = (time: number): number => LEFT + (time / end) * (width - LEFT)
  const y = (off: number): number => {
    const held = Math.min(Math.max(off, -reach), reach)
    return TOP + ((reach - held) / (2 * reach)) * (height - TOP - BOTTOM)
  }
  const step = STEPS.find((one) => reach / one < 3.5) ?? 50
  const marks = Array.from({ length: 2 * Math.floor(reach / step) + 1 }, (_, k) => (k - Math.floor(reach / step)) * step)
  const off = BAND * page.wanted_speed_m_s
  const begins = page.figures.map(beginsAt)
  return {
    height,
    x,
    y,
    marks,
    band: { top: y(off), bottom: y(-off) },
    figures: page.figures.map((figure, k) => {
      const from = x(begins[k] ?? 0)
      return { number: figure.number, from, middle: (from + x(begins[k + 1] ?? end)) / 2 }
    }),
  }
}

/** Room a number takes, each digit and the gap to the next, px. */
const DIGIT = 8
const APART = 5

/** Figures whose number has room beside the others; that of the figure under the playhead always stands. */
export function numbersShown(strip: Strip, current: number): Set<number> {
  const spans = strip.figures.map(({ number, middle }) => {
    const half = (DIGIT * String(number).length + APART) / 2
    return { number, from: middle - half, to: middle + half }
  })
  const kept = spans.filter((one) => one.number === current)
  for (const one of spans) if (kept.every((other) => one.to <= other.from || other.to <= one.from)) kept.push(one)
  return new Set(kept.map((one) => one.number))
}

export const stripPoints = (track: FlyTrack, wanted: number, strip: Strip): Point[] =>
  track.time_s.map((time, k) => [strip.x(time), strip.y((track.speed_m_s[k] ?? wanted) - wanted)])

/** The second flight at the places of the first: above and below each other is the same place on the path. */
export function againstPath(page: FlyPage, strip: Strip): string {
  const other = page.against
  if (!other) return ''
  const { place_m: places, speed_m_s: speeds } = other.track
  const end = page.track.place_m.at(-1) ?? 0
  const points: Point[] = []
  places.forEach((place, k) => {
    if (place > end) return
    points.push([strip.x(timeAt(page.track, place)), strip.y((speeds[k] ?? 0) - other.wanted_speed_m_s)])
  })
  return pathOf(points)
}
