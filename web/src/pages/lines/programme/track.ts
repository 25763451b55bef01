// A flight in time as the pictures need it: where the plane is at a time, and stretches of speed that belong together.
import { fixed, signed } from '../../../lib/format'
import type { FlyFigurePage, FlyPage, FlyPartPage, FlyTrack } from '../../../lib/generated/pages'

export type Vector = readonly [number, number, number]

/** How a stretch is flown: within the band, faster, much faster, slower, much slower, or not meant to be even. */
export type Kind = 'even' | 'fast' | 'faster' | 'slow' | 'slower' | 'free'

/** A part of the wanted speed off which counts, and off which counts much. */
export const BAND = 0.05
export const WIDE = 0.1

/** Points of the track from `from` to `to`, both in it, of one kind. */
export interface Run {
  kind: Kind
  from: number
  to: number
}

export function kindOf(speed: number, wanted: number, counted: boolean): Kind {
  if (!counted) return 'free'
  const off = speed / wanted - 1
  if (Math.abs(off) <= BAND) return 'even'
  if (off > 0) return off > WIDE ? 'faster' : 'fast'
  return off < -WIDE ? 'slower' : 'slow'
}

/** The whole track in runs, each beginning where the one before ends. */
export function runsOf(track: FlyTrack, wanted: number): Run[] {
  const runs: Run[] = []
  track.speed_m_s.forEach((speed, k) => {
    if (k === 0) return
    const kind = kindOf(speed, wanted, track.counted[k] ?? false)
    const last = runs.at(-1)
    if (last?.kind === kind) last.to = k
    else runs.push({ kind, from: k - 1, to: k })
  })
  return runs
}

/** Where a value lies in a rising list: the entry before it and how far on to the next, 0 to 1. */
export function placeIn(rising: readonly number[], value: number): { k: number; share: number } {
  let low = 0
  let high = rising.length - 1
  if (high < 1 || value <= (rising[0] ?? 0)) return { k: 0, share: 0 }
  if (value >= (rising[high] ?? 0)) return { k: high - 1, share: 1 }
  while (high - low > 1) {
    const middle = (low + high) >> 1
    if ((rising[middle] ?? 0) <= value) low = middle
    else high = middle
  }
  const from = rising[low] ?? 0
  const span = (rising[high] ?? 0) - from
  return { k: low, share: span > 0 ? (value - from) / span : 0 }
}

/** A column read between its entries. */
export function between(values: readonly number[], at: { k: number; share: number }): number {
  const from = values[at.k] ?? 0
  return from + at.share * ((values[at.k + 1] ?? from) - from)
}

function turned(values: readonly Vector[], at: { k: number; share: number }): Vector {
  const from = values[at.k] ?? [1, 0, 0]
  const to = values[at.k + 1] ?? from
  const mixed = from.map((one, axis) => one + at.share * ((to[axis] ?? one) - one))
  const long = Math.hypot(...mixed)
  // Half a turn between two entries has no middle.
  if (long < 1e-6) return from
  return [(mixed[0] ?? 0) / long, (mixed[1] ?? 0) / long, (mixed[2] ?? 0) / long]
}

/** The plane at a time. */
export interface Moment {
  time: number
  place: number
  x: number
  y: number
  height: number
  forward: Vector
  canopy: Vector
  figure: number
  part: number
  counted: boolean
  closed: boolean
  speed: number
  stick: number
  deployment: number
  shaft: number
  thrust: number
  current: number
  voltage: number
  /** Null where the battery stays full. */
  left: number | null
  load: number
  incidence: number
}

export function momentAt(track: FlyTrack, time: number): Moment {
  const at = placeIn(track.time_s, time)
  const next = at.share > 0 ? at.k + 1 : at.k
  const read = (values: readonly number[]): number => between(values, at)
  return {
    time: between(track.time_s, at),
    place: read(track.place_m),
    x: read(track.x_m),
    y: read(track.y_m),
    height: read(track.height_m),
    forward: turned(track.forward, at),
    canopy: turned(track.canopy, at),
    figure: track.figure[next] ?? 1,
    part: track.part[next] ?? 1,
    counted: track.counted[next] ?? false,
    closed: track.closed[next] ?? false,
    speed: read(track.speed_m_s),
    stick: read(track.stick_percent),
    deployment: read(track.deployment_percent),
    shaft: read(track.shaft_rpm),
    thrust: read(track.thrust_n),
    current: read(track.current_a),
    voltage: read(track.voltage_v),
    left: track.left_percent.length > 0 ? read(track.left_percent) : null,
    load: read(track.load),
    incidence: read(track.incidence_deg),
  }
}

export const endOf = (track: FlyTrack): number => track.time_s.at(-1) ?? 0

/** When a track passes a place on the path. */
export function timeAt(track: FlyTrack, place: number): number {
  return between(track.time_s, placeIn(track.place_m, place))
}

export const partOf = (page: FlyPage, figure: number, part: number): FlyPartPage | undefined =>
  page.figures.find((one) => one.number === figure)?.parts.find((one) => one.part === part)

export const worstPart = (figure: FlyFigurePage): FlyPartPage | undefined =>
  figure.parts.find((part) => part.part === figure.worst_part)

/** When a figure begins, s. */
export const beginsAt = (figure: FlyFigurePage): number => figure.parts[0]?.begins_s ?? 0

/** A place where speed is off, with what to say there. */
export interface Worst {
  figure: number
  time: number
  place: number
  off: number
  words: string
  estimated: boolean
}

/** The worst place of every figure off by more than the band, the worst of all first. */
export function worstPlaces(page: FlyPage): Worst[] {
  const found: Worst[] = []
  for (const figure of page.figures) {
    const part = worstPart(figure)
    if (!part?.counted || Math.abs(figure.worst_off_m_s) <= BAND * page.wanted_speed_m_s) continue
    const why = figure.why_short === '' ? '' : `, ${figure.why_short}`
    found.push({
      figure: figure.number,
      time: timeAt(page.track, part.worst_at_m),
      place: part.worst_at_m,
      off: figure.worst_off_m_s,
      words: `${signed(figure.worst_off_m_s)} m/s${why}${part.estimated ? ' (estimate)' : ''}`,
      estimated: part.estimated,
    })
  }
  return found.sort((a, b) => Math.abs(b.off) - Math.abs(a.off))
}

/** What the picture says, in a sentence. */
export function programmeReading(page: FlyPage): string {
  const worst = worstPlaces(page)
  const band = `${fixed(100 * BAND, 0)} % of ${fixed(page.wanted_speed_m_s)} m/s`
  const share = `${fixed(page.within_percent, 0)} % of the time within ${band}.`
  const first = worst[0]
  if (first === undefined) return `${share} No figure leaves it.`
  const name = page.figures.find((one) => one.number === first.figure)?.name ?? ''
  return `${share} Farthest off in figure ${first.figure} (${name}): ${first.words}.`
}
