// The programme as the judges see it and from one end: frame, box, path in runs, and the plane in its attitude.
import type { FlyBox, FlyTrack } from '../../../lib/generated/pages'
import { type Box, pathOf, Placer, type Point, widthOf } from '../labels'
import { type Moment, type Run, type Vector, type Worst } from './track'

/** Half of what is shown across the flight line in the view from the end at least, m. */
const ACROSS = 45
const MARGIN = 14
const GROUND = 30
export const LABEL = 13.5

/** A picture true to scale: the same metres across and up. */
export interface Frame {
  width: number
  height: number
  /** px a metre. */
  scale: number
  at: (across: number, height: number) => Point
}

interface Reach {
  left: number
  right: number
  top: number
}

/** What both views have to show, m. */
export function reachOf(box: FlyBox, tracks: readonly FlyTrack[]): { side: Reach; end: Reach } {
  const xs = tracks.flatMap((track) => track.x_m)
  const ys = tracks.flatMap((track) => track.y_m)
  const half = box.distance_m * Math.tan((box.side_deg * Math.PI) / 180)
  const high = box.distance_m * Math.tan((box.elevation_deg * Math.PI) / 180)
  const top = Math.max(high, ...tracks.flatMap((track) => track.height_m)) * 1.06 + 8
  return {
    side: { left: Math.min(-half, ...xs) - 8, right: Math.max(half, ...xs) + 8, top },
    end: { left: Math.min(-ACROSS, ...ys.map((y) => y - 15)), right: Math.max(ACROSS, ...ys.map((y) => y + 15)), top },
  }
}

export function frameOf(reach: Reach, scale: number): Frame {
  const height = reach.top * scale + MARGIN + GROUND
  return {
    width: (reach.right - reach.left) * scale + 2 * MARGIN,
    height,
    scale,
    at: (across, up) => [MARGIN + (across - reach.left) * scale, MARGIN + (reach.top - up) * scale],
  }
}

/** The scale that fills a width, px a metre. */
export const scaleFor = (reach: Reach, width: number): number => (width - 2 * MARGIN) / (reach.right - reach.left)

export const widthAt = (reach: Reach, scale: number): number => (reach.right - reach.left) * scale + 2 * MARGIN

/** Edges of the box as the judges see it: both sides, the roof at its angle, the lowest height, the ground. */
export interface BoxEdges {
  sides: string
  roof: string
  lowest: string
  ground: string
}

export function sideBox(box: FlyBox, frame: Frame, reach: Reach): BoxEdges {
  const half = box.distance_m * Math.tan((box.side_deg * Math.PI) / 180)
  const roof = (x: number): number => Math.tan((box.elevation_deg * Math.PI) / 180) * Math.hypot(x, box.distance_m)
  const across = Array.from({ length: 49 }, (_, k) => -half + (2 * half * k) / 48)
  const seen = across.filter((x) => roof(x) <= reach.top)
  return {
    sides: [-half, half].map((x) => pathOf([frame.at(x, 0), frame.at(x, Math.min(roof(x), reach.top))])).join(''),
    roof: pathOf(seen.map((x) => frame.at(x, roof(x)))),
    lowest: pathOf([frame.at(-half, box.lowest_m), frame.at(half, box.lowest_m)]),
    ground: pathOf([frame.at(reach.left, 0), frame.at(reach.right, 0)]),
  }
}

/** The box from the right end: judges stand to the left; the roof rises with the distance from them. */
export function endBox(box: FlyBox, frame: Frame, reach: Reach): BoxEdges {
  const slope = Math.tan((box.elevation_deg * Math.PI) / 180)
  const most = Math.min(reach.right, reach.top / slope - box.distance_m)
  return {
    sides: '',
    roof: pathOf([frame.at(reach.left, slope * (box.distance_m + reach.left)), frame.at(most, slope * (box.distance_m + most))]),
    lowest: pathOf([frame.at(reach.left, box.lowest_m), frame.at(reach.right, box.lowest_m)]),
    ground: pathOf([frame.at(reach.left, 0), frame.at(reach.right, 0)]),
  }
}

export const sidePoints = (track: FlyTrack, frame: Frame): Point[] =>
  track.x_m.map((x, k) => frame.at(x, track.height_m[k] ?? 0))

export const endPoints = (track: FlyTrack, frame: Frame): Point[] =>
  track.y_m.map((y, k) => frame.at(y, track.height_m[k] ?? 0))

/** Runs as path data, `aside` px to the right of the flight. */
export function runPath(points: readonly Point[], run: Run, aside = 0): string {
  const part = points.slice(run.from, run.to + 1)
  return pathOf(aside === 0 ? part : beside(part, aside))
}

function beside(points: readonly Point[], aside: number): Point[] {
  let last: Point = [0, 0]
  return points.map(([x, y], k) => {
    const [bx, by] = points[Math.max(k - 1, 0)] ?? [x, y]
    const [ax, ay] = points[Math.min(k + 1, points.length - 1)] ?? [x, y]
    const long = Math.hypot(ax - bx, ay - by)
    if (long > 1e-6) last = [-(ay - by) / long, (ax - bx) / long]
    return [x + aside * last[0], y + aside * last[1]]
  })
}

const cross = (a: Vector, b: Vector): Vector => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
]

/** The plane as drawn: outlines in px about its middle, and which face of the wing is seen. */
export interface PlaneSign {
  wing: string
  tail: string
  fin: string
  body: string
  nose: Point
  /** The canopy side is seen; false: the belly. */
  above: boolean
}

/** Corners of the sign in halves of its length: forward, right, towards the canopy. */
const WING: Vector[] = [[0.34, -1, 0], [0.34, 1, 0], [-0.06, 1, 0], [-0.06, -1, 0]]
const TAIL: Vector[] = [[-0.78, -0.42, 0], [-0.78, 0.42, 0], [-1, 0.42, 0], [-1, -0.42, 0]]
const FIN: Vector[] = [[-0.66, 0, 0], [-0.9, 0, 0.46], [-1.02, 0, 0.46], [-1, 0, 0]]
const BODY: Vector[] = [[1, 0, 0], [0.5, 0, 0.14], [0.15, 0, 0.2], [-1, 0, 0.02], [-1, 0, -0.04], [0.5, 0, -0.12]]
const BREADTH: Vector[] = [[1, 0, 0], [0.5, 0.12, 0], [-1, 0.03, 0], [-1, -0.03, 0], [0.5, -0.12, 0]]

/** Which two axes a view shows, to the right and up, and from where it looks. */
export interface View {
  right: Vector
  from: Vector
}
/** From the judges: x to the right, seen from before the line. */
export const JUDGES: View = { right: [1, 0, 0], from: [0, -1, 0] }
/** From the right end: away to the right, seen against x. */
export const END: View = { right: [0, 1, 0], from: [1, 0, 0] }

const dot = (a: Vector, b: Vector): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2]

export function planeSign(moment: Pick<Moment, 'forward' | 'canopy'>, view: View, half: number): PlaneSign {
  const { forward, canopy } = moment
  const right = cross(forward, canopy)
  const place = ([f, r, c]: Vector): Point => {
    const at: Vector = [
      f * forward[0] + r * right[0] + c * canopy[0],
      f * forward[1] + r * right[1] + c * canopy[1],
      f * forward[2] + r * right[2] + c * canopy[2],
    ]
    return [half * dot(at, view.right), -half * at[2]]
  }
  const outline = (corners: readonly Vector[]): string => pathOf(corners.map(place), true)
  return {
    wing: outline(WING),
    tail: outline(TAIL),
    fin: outline(FIN),
    body: outline(BODY) + outline(BREADTH),
    nose: place([1, 0, 0]),
    above: dot(canopy, view.from) > 0,
  }
}

/** A label beside its place. */
export interface Label {
  words: string
  x: number
  y: number
  width: number
  /** The place it speaks of. */
  spot: Point
  figure: number
  fast: boolean
}

/** Words at the worst places, kept off each other and, as far as there is room, off the path. */
export function labelWorst(
  worst: readonly Worst[],
  spots: readonly Point[],
  path: readonly Point[],
  frame: Box,
  measured: (words: string) => number = (words) => widthOf(words, LABEL, true),
): Label[] {
  const placer = new Placer(frame)
  placer.light = path.filter((_, k) => k % 2 === 0)
  placer.heavy = [...spots]
  return worst.flatMap((one, index) => {
    const spot = spots[index]
    if (!spot) return []
    const width = measured(one.words) + 8
    const height = 20
    const candidates = []
    for (const away of [22, 40, 62, 90, 125]) {
      for (let k = 0; k < 16; k++) {
        const turn = (k * Math.PI) / 8
        const x = spot[0] + Math.cos(turn) * (away + width / 2)
        const y = spot[1] + Math.sin(turn) * away
        candidates.push({ own: 0.35 * away, box: { x, y, width, height } })
      }
    }
    const box = placer.best(candidates)
    return box ? [{ words: one.words, x: box.x, y: box.y, width, spot, figure: one.figure, fast: one.off > 0 }] : []
  })
}

/** From a label's edge to its place. */
export function leadOf(label: Label): string {
  const half = label.width / 2 - 1
  const x = label.x + Math.min(Math.max(label.spot[0] - label.x, -half), half)
  const y = label.y + Math.min(Math.max(label.spot[1] - label.y, -9), 9)
  return pathOf([[x, y], label.spot])
}
