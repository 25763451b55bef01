// A line clicked in a video: places, how the scale is known, how far the line was, and what is still missing.
import type { Click, ClickedPart } from '../../../lib/generated/pages'
import { typed } from '../../../lib/ui/number'
import { SAME_S } from './frames'
import { START, type OnLine } from './onLine'
import type { Point, Size } from './pixels'

export type Way = 'angle' | 'markers' | 'span'
export type Level = 'horizon' | 'elevation'
/** What the next click places. */
export type Target = 'plane' | 'marker 1' | 'marker 2' | 'span 1' | 'span 2' | 'horizon'

/** Clicks the way is computed from, at least. */
export const LEAST_CLICKS = 5
const KEY = 'evenfall.clicks'
const MOST_KEPT = 8

/** What is typed and clicked, as it is kept over a reload. */
export interface Kept {
  way: Way
  level: Level
  clicks: Click[]
  spots: Partial<Record<Target, Point>>
  texts: Record<Text, string>
  on: OnLine
}
export type Text = 'distance' | 'angle' | 'apart' | 'away' | 'span' | 'elevation' | 'horizon'

const EMPTY: Record<Text, string> = { distance: '', angle: '', apart: '', away: '', span: '', elevation: '', horizon: '' }

export class Sighting {
  way = $state<Way>('angle')
  level = $state<Level>('horizon')
  clicks = $state.raw<Click[]>([])
  spots = $state.raw<Partial<Record<Target, Point>>>({})
  texts = $state.raw<Record<Text, string>>(EMPTY)
  on = $state.raw<OnLine>(START)
  target = $state<Target>('plane')
  /** What undo takes back, oldest first. */
  #before = $state.raw<{ clicks: Click[]; spots: Partial<Record<Target, Point>> }[]>([])

  canUndo = $derived(this.#before.length > 0)

  /** What the next click may place, with what the scale and the horizon need. */
  targets: { value: Target; label: string }[] = $derived([
    { value: 'plane' as const, label: 'the plane' },
    ...(this.way === 'markers'
      ? [
          { value: 'marker 1' as const, label: 'first marker' },
          { value: 'marker 2' as const, label: 'second marker' },
        ]
      : []),
    ...(this.way === 'span'
      ? [
          { value: 'span 1' as const, label: 'one wing tip' },
          { value: 'span 2' as const, label: 'other wing tip' },
        ]
      : []),
    ...(this.level === 'horizon' ? [{ value: 'horizon' as const, label: 'the horizon' }] : []),
  ])

  number(text: Text): number | null {
    return typed(this.texts[text])
  }

  type(text: Text, value: string): void {
    this.texts = { ...this.texts, [text]: value }
  }

  /** The mark of a frame, where it has one. */
  at(time: number): Click | null {
    return this.clicks.find((click) => Math.abs(click.t_s - time) < SAME_S) ?? null
  }

  /** Place what is to be placed; the plane once a frame, a further click moves it. */
  place(time: number, point: Point): void {
    this.#keepBefore()
    const { x, y } = { x: Math.round(10 * point.x) / 10, y: Math.round(10 * point.y) / 10 }
    if (this.target === 'plane') {
      const others = this.clicks.filter((click) => Math.abs(click.t_s - time) >= SAME_S)
      this.clicks = [...others, { t_s: time, x_px: x, y_px: y }].sort((a, b) => a.t_s - b.t_s)
      return
    }
    this.spots = { ...this.spots, [this.target]: { x, y } }
    if (this.target === 'horizon') this.texts = { ...this.texts, horizon: String(Math.round(y)) }
    const next: Partial<Record<Target, Target>> = { 'marker 1': 'marker 2', 'span 1': 'span 2' }
    this.target = next[this.target] ?? 'plane'
  }

  /** A mark that is there, moved a little: undo takes back the mark, not the move. */
  move(time: number, point: Point): void {
    if (this.target === 'plane') {
      const moved = { x_px: point.x, y_px: point.y }
      this.clicks = this.clicks.map((click) => (Math.abs(click.t_s - time) < SAME_S ? { ...click, ...moved } : click))
      return
    }
    this.spots = { ...this.spots, [this.target]: point }
    if (this.target === 'horizon') this.texts = { ...this.texts, horizon: String(Math.round(point.y)) }
  }

  /** Where the plane may be in a frame: on from the two marks before it, or back from the two after. */
  guess(time: number): Point | null {
    const earlier = this.clicks.filter((click) => click.t_s < time).slice(-2)
    const later = this.clicks.filter((click) => click.t_s > time).slice(0, 2)
    const [a, b] = earlier.length === 2 || later.length < 2 ? earlier : later
    if (a === undefined) return later[0] ? { x: later[0].x_px, y: later[0].y_px } : null
    if (b === undefined) return { x: a.x_px, y: a.y_px }
    const share = (time - a.t_s) / (b.t_s - a.t_s)
    return { x: a.x_px + share * (b.x_px - a.x_px), y: a.y_px + share * (b.y_px - a.y_px) }
  }

  /** Take back the last mark. */
  undo(): void {
    const last = this.#before.at(-1)
    if (last === undefined) return
    this.#before = this.#before.slice(0, -1)
    this.clicks = last.clicks
    this.spots = last.spots
  }

  clear(): void {
    this.#keepBefore()
    this.clicks = []
  }

  useWay(way: Way): void {
    this.way = way
    if (!this.targets.some((one) => one.value === this.target)) this.target = 'plane'
  }

  useLevel(level: Level): void {
    this.level = level
    if (!this.targets.some((one) => one.value === this.target)) this.target = 'plane'
  }

  /** What is still missing before the way can be computed. */
  missing(): string[] {
    const said: string[] = []
    const count = LEAST_CLICKS - this.clicks.length
    if (count > 0) said.push(`${count} more ${count === 1 ? 'click' : 'clicks'} on the plane`)
    const need = (text: Text, words: string): void => {
      if (this.number(text) === null) said.push(words)
    }
    need('distance', 'the distance to the line')
    if (this.way === 'angle') need('angle', 'the field of view')
    else if (this.way === 'markers') {
      if (!this.spots['marker 1'] || !this.spots['marker 2']) said.push('clicks on both markers')
      need('apart', 'how far the markers are apart')
      need('away', 'how far the markers are from the camera')
    } else {
      if (!this.spots['span 1'] || !this.spots['span 2']) said.push('clicks on both wing tips')
      need('span', 'the span')
    }
    if (this.level === 'horizon') need('horizon', 'the horizon')
    else need('elevation', 'how far the camera looks up')
    return said
  }

  /** What is entered; null while something is missing. */
  part(file: string, frame: Size): ClickedPart | null {
    if (this.missing().length > 0) return null
    const [first, second] = this.way === 'markers' ? [this.spots['marker 1'], this.spots['marker 2']] : []
    const [left, right] = this.way === 'span' ? [this.spots['span 1'], this.spots['span 2']] : []
    return {
      ...this.on,
      file,
      width_px: frame.width,
      height_px: frame.height,
      distance_m: this.number('distance'),
      clicks: this.clicks,
      ...(this.way === 'angle' ? { field_of_view_deg: this.number('angle') } : {}),
      ...(first && second
        ? {
            markers_px: [first.x, first.y, second.x, second.y],
            markers_apart_m: this.number('apart'),
            markers_distance_m: this.number('away'),
          }
        : {}),
      ...(left && right
        ? {
            span_px: Math.round(10 * Math.hypot(right.x - left.x, right.y - left.y)) / 10,
            span_m: this.number('span'),
            span_y_px: Math.round(5 * (left.y + right.y)) / 10,
          }
        : {}),
      ...(this.level === 'horizon'
        ? { horizon_y_px: this.number('horizon') }
        : { camera_elevation_deg: this.number('elevation') }),
    }
  }

  /** As it is kept for this video: clicking is work that a reload must not take. */
  kept(): Kept {
    const { way, level, clicks, spots, texts, on } = this
    return { way, level, clicks, spots, texts, on }
  }

  restore(kept: Kept | null): void {
    this.way = kept?.way ?? 'angle'
    this.level = kept?.level ?? 'horizon'
    this.clicks = kept?.clicks ?? []
    this.spots = kept?.spots ?? {}
    this.texts = { ...EMPTY, ...kept?.texts }
    this.on = { ...START, ...kept?.on }
    this.target = 'plane'
    this.#before = []
  }

  #keepBefore(): void {
    this.#before = [...this.#before.slice(-200), { clicks: this.clicks, spots: this.spots }]
  }
}

function all(): [string, Kept][] {
  try {
    const found: unknown = JSON.parse(localStorage.getItem(KEY) ?? '[]')
    return Array.isArray(found) ? found.filter(isKept) : []
  } catch {
    return []
  }
}

function isKept(item: unknown): item is [string, Kept] {
  if (!Array.isArray(item) || typeof item[0] !== 'string' || typeof item[1] !== 'object' || item[1] === null) return false
  const kept = item[1] as Partial<Record<keyof Kept, unknown>>
  return Array.isArray(kept.clicks) && typeof kept.spots === 'object' && typeof kept.texts === 'object'
}

/** Name and size tell a video from another: it is never read for that. */
export const videoKey = (file: { name: string; size: number }): string => `${file.name} ${file.size}`

export function keptClicks(key: string): Kept | null {
  return all().find(([mine]) => mine === key)?.[1] ?? null
}

/** Null forgets. */
export function keepClicks(key: string, kept: Kept | null): void {
  const others = all().filter(([mine]) => mine !== key)
  const now: [string, Kept][] = kept === null ? others : [[key, kept], ...others]
  try {
    localStorage.setItem(KEY, JSON.stringify(now.slice(0, MOST_KEPT)))
  } catch {
    // Not kept: the clicks still hold for this page.
  }
}
