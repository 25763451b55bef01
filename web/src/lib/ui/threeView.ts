// The three-view's geometry: projections of the plane's shape at one scale, all in px of the drawing.
import type { ShapePage, SolidPage, SurfacePage } from '../generated/pages'

export type View = 'top' | 'side' | 'behind'
/** mm in the drawing frame: x aft, y right, z up. */
export type Triple = readonly [number, number, number]
export type Point = readonly [number, number]

/** A dimension line between two points of one view. */
export interface Dim {
  view: View
  from: Triple
  to: Triple
  /** Measured along the drawing's width or height. */
  along: 'width' | 'height'
  words: string
  /** Where its line stands, px from the points: positive below or to the right. */
  off: number
}

/** What a field or a group of the form is on the drawing. */
export interface Mark {
  /** Names of surfaces; a name ending in * stands for all that begin so. */
  surfaces: readonly string[]
  /** Places in the shape's list of solids. */
  solids: readonly number[]
  propeller: boolean
  cg: boolean
  dims: readonly Dim[]
}

export interface Box {
  low: Triple
  high: Triple
}

/** Everything that is drawn, mm. */
export function boxOf(shape: ShapePage): Box {
  const half = shape.propeller_mm / 2
  const points: Triple[] = [
    [0, -half, -half],
    [0, half, half],
    shape.cg,
    ...shape.surfaces.flatMap((surface) => surface.outline),
    ...shape.solids.flatMap((solid) => [corner(solid, -0.5), corner(solid, 0.5)]),
  ]
  const axis = (place: 0 | 1 | 2, pick: (...values: number[]) => number): number =>
    points.reduce((found, point) => pick(found, point[place]), points[0]?.[place] ?? 0)
  return {
    low: [axis(0, Math.min), axis(1, Math.min), axis(2, Math.min)],
    high: [axis(0, Math.max), axis(1, Math.max), axis(2, Math.max)],
  }
}

export function union(a: Box, b: Box): Box {
  const both = (pick: (...values: number[]) => number, p: Triple, q: Triple): Triple => [
    pick(p[0], q[0]),
    pick(p[1], q[1]),
    pick(p[2], q[2]),
  ]
  return { low: both(Math.min, a.low, b.low), high: both(Math.max, a.high, b.high) }
}

function corner(solid: SolidPage, share: number): Triple {
  return [
    solid.at[0] + share * solid.size[0],
    solid.at[1] + share * solid.size[1],
    solid.at[2] + share * solid.size[2],
  ]
}

const EDGE = 16
const RIGHT = 44
const HEAD = 24
const BETWEEN = 22
const LENGTH_ROOM = 34

/** Where the three views stand and how many px a mm is. */
export class Layout {
  readonly scale: number
  readonly width: number
  readonly height: number
  readonly #x: number
  readonly #middle: number
  readonly #top: number
  readonly #side: number
  readonly #behind: number

  constructor(
    readonly box: Box,
    width: number,
    tallest: number,
  ) {
    const { low, high } = box
    const [long, wide, tall] = [high[0] - low[0], high[1] - low[1], high[2] - low[2]]
    const fixed = 3 * HEAD + 2 * BETWEEN + LENGTH_ROOM
    this.scale = Math.max(
      0.02,
      Math.min((width - EDGE - RIGHT) / long, (width - 2 * EDGE) / wide, (tallest - fixed) / (wide + 2 * tall)),
    )
    const needed = Math.max(long * this.scale + EDGE + RIGHT, wide * this.scale + 2 * EDGE)
    this.width = Math.max(width, needed)
    const left = (this.width - needed) / 2
    this.#x = left + EDGE - low[0] * this.scale
    this.#middle = this.width / 2 - ((low[1] + high[1]) / 2) * this.scale
    this.#top = HEAD + high[1] * this.scale
    const sideFrom = HEAD + wide * this.scale + BETWEEN + HEAD
    this.#side = sideFrom + high[2] * this.scale
    const behindFrom = sideFrom + tall * this.scale + LENGTH_ROOM + BETWEEN + HEAD
    this.#behind = behindFrom + high[2] * this.scale
    this.height = behindFrom + tall * this.scale + 10
  }

  at(view: View, point: Triple): Point {
    const k = this.scale
    if (view === 'top') return [this.#x + point[0] * k, this.#top - point[1] * k]
    if (view === 'side') return [this.#x + point[0] * k, this.#side - point[2] * k]
    return [this.#middle + point[1] * k, this.#behind - point[2] * k]
  }

  /** Upper left and lower right corner of a view, px. */
  frame(view: View): [Point, Point] {
    const { low, high } = this.box
    if (view === 'top') return [this.at(view, [low[0], high[1], 0]), this.at(view, [high[0], low[1], 0])]
    if (view === 'side') return [this.at(view, [low[0], 0, high[2]]), this.at(view, [high[0], 0, low[2]])]
    return [this.at(view, [0, low[1], high[2]]), this.at(view, [0, high[1], low[2]])]
  }
}

const px = (value: number): string => value.toFixed(1)

export function path(points: readonly Point[], close = true): string {
  return `M${points.map((point) => `${px(point[0])} ${px(point[1])}`).join('L')}${close ? 'Z' : ''}`
}

/** Half thickness over thickness of the four-digit section, trailing edge closed, at a share of the chord. */
function half(share: number): number {
  const s = share
  return 5 * (0.2969 * Math.sqrt(s) - 0.126 * s - 0.3516 * s ** 2 + 0.2843 * s ** 3 - 0.1036 * s ** 4)
}

/** The section between two shares of the chord, seen from the side. */
export function sectionPath(
  layout: Layout,
  lead: Triple,
  trail: Triple,
  thickness: number,
  from = 0,
  to = 1,
): string {
  const [a, b] = [layout.at('side', lead), layout.at('side', trail)]
  const chord = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1
  const along: Point = [(b[0] - a[0]) / chord, (b[1] - a[1]) / chord]
  const shares = Array.from({ length: 19 }, (_, place) => from + (to - from) * (1 - Math.cos((Math.PI * place) / 18)) / 2)
  const at = (share: number, side: number): Point => {
    const up = side * half(share) * thickness * layout.scale
    return [a[0] + along[0] * share * chord + along[1] * up, a[1] + along[1] * share * chord - along[0] * up]
  }
  return path([...shares.map((share) => at(share, 1)), ...shares.reverse().map((share) => at(share, -1))])
}

/** Share of the greatest half height or width that the body keeps along its length: drawn by eye. */
function taper(share: number): number {
  if (share < 0.28) return 0.56 + 0.44 * Math.sin((Math.PI / 2) * (share / 0.28))
  return 1 - 0.78 * ((share - 0.28) / 0.72) ** 1.5
}

export function bodyPath(layout: Layout, body: SolidPage, view: 'top' | 'side'): string {
  const shares = Array.from({ length: 33 }, (_, place) => place / 32)
  const at = (share: number, side: number): Point => {
    const x = body.at[0] + (share - 0.5) * body.size[0]
    const by = side * taper(share) * 0.5
    return view === 'top'
      ? layout.at(view, [x, body.at[1] + by * body.size[1], 0])
      : layout.at(view, [x, 0, body.at[2] + by * body.size[2]])
  }
  return path([...shares.map((share) => at(share, 1)), ...shares.reverse().map((share) => at(share, -1))])
}

/** A rectangle for a solid in a view; never thinner than a line. */
export function rect(layout: Layout, solid: SolidPage, view: View): { x: number; y: number; width: number; height: number } {
  const [p, q] = [layout.at(view, corner(solid, -0.5)), layout.at(view, corner(solid, 0.5))]
  const width = Math.max(Math.abs(q[0] - p[0]), 1)
  const height = Math.max(Math.abs(q[1] - p[1]), 1)
  return { x: (p[0] + q[0]) / 2 - width / 2, y: (p[1] + q[1]) / 2 - height / 2, width, height }
}

/** A surface seen from behind: its leading edge with the thickness it has there. */
export function edgeOn(layout: Layout, surface: SurfacePage): string {
  const [root, tip] = surface.outline
  const back = surface.outline[surface.outline.length - 1]
  const tipBack = surface.outline[2]
  if (root === undefined || tip === undefined || back === undefined || tipBack === undefined) return ''
  const thick = Math.max(surface.thickness_mm * layout.scale, 1.2) / 2
  const ratio = Math.abs(tipBack[0] - tip[0]) / Math.max(Math.abs(back[0] - root[0]), 1e-6)
  const thin = Math.max(thick * Math.min(ratio, 1.2), 0.6)
  const [a, b] = [layout.at('behind', root), layout.at('behind', tip)]
  const upright = Math.abs(b[1] - a[1]) > Math.abs(b[0] - a[0])
  const off = (point: Point, by: number): Point => (upright ? [point[0] + by, point[1]] : [point[0], point[1] - by])
  return path([off(a, thick), off(b, thin), off(b, -thin), off(a, -thick)])
}

export function hit(mark: Mark | null, name: string): boolean {
  if (mark === null) return false
  return mark.surfaces.some((one) => (one.endsWith('*') ? name.startsWith(one.slice(0, -1)) : one === name))
}

export interface DimLine {
  key: string
  /** Extension lines and the dimension line itself. */
  lines: string
  arrows: string
  text: { x: number; y: number; turned: boolean; anchor: 'middle' | 'start' }
  words: string
}

const ARROW = 7

/** The dimension as drawn: lines, arrow heads (turned outward where it is too short) and the place of its figure. */
export function dimLine(layout: Layout, dim: Dim): DimLine {
  const [p, q] = [layout.at(dim.view, dim.from), layout.at(dim.view, dim.to)]
  const flat = dim.along === 'width'
  // Along the dimension (s) and across it (c).
  const [s1, s2] = flat ? [Math.min(p[0], q[0]), Math.max(p[0], q[0])] : [Math.min(p[1], q[1]), Math.max(p[1], q[1])]
  const across = flat ? [p[1], q[1]] : [p[0], q[0]]
  const line = dim.off >= 0 ? Math.max(...across) + dim.off : Math.min(...across) + dim.off
  const at = (s: number, c: number): Point => (flat ? [s, c] : [c, s])
  const short = s2 - s1 < 3 * ARROW
  const room = dim.words.length * 6.6 + 14
  const beside = s2 - s1 < room
  const over = dim.off >= 0 ? 3 : -3
  const feet = [p, q].map((point) => {
    const [s, c] = flat ? [point[0], point[1]] : [point[1], point[0]]
    const start = c + Math.sign(line - c) * Math.min(2, Math.abs(line - c))
    return Math.abs(line - c) < 3 ? '' : path([at(s, start), at(s, line + over)], false)
  })
  const ends = short ? [s1 - 2.4 * ARROW, s2 + 2.4 * ARROW] : [s1, s2]
  const head = (tip: number, way: number): string =>
    path([at(tip, line), at(tip + way * ARROW, line - 2), at(tip + way * ARROW, line + 2)])
  const middle = (s1 + s2) / 2
  const text = beside
    ? flat
      ? { x: (ends[1] ?? s2) + 5, y: line + 4, turned: false, anchor: 'start' as const }
      : { x: line + 6, y: middle + 4, turned: false, anchor: 'start' as const }
    : flat
      ? { x: middle, y: line - 4, turned: false, anchor: 'middle' as const }
      : { x: line - 4, y: middle, turned: true, anchor: 'middle' as const }
  return {
    key: `${dim.view} ${dim.along} ${dim.words} ${dim.off}`,
    lines: `${feet.join('')}${path([at(ends[0] ?? s1, line), at(ends[1] ?? s2, line)], false)}`,
    arrows: short ? head(s1, -1) + head(s2, 1) : head(s1, 1) + head(s2, -1),
    text,
    words: dim.words,
  }
}
