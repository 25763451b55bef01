// Where words go on a picture: boxes that keep off each other and off the lines that matter.
export type Point = readonly [number, number]

/** A rectangle by its middle. */
export interface Box {
  x: number
  y: number
  width: number
  height: number
}

const known = new Map<string, number>()
let pen: CanvasRenderingContext2D | null = null

/** How wide a text is in the page's font at this size. */
export function widthOf(words: string, size: number, bold = false): number {
  const key = `${bold ? 'b' : ''}${size}:${words}`
  let width = known.get(key)
  if (width === undefined) {
    pen ??= document.createElement('canvas').getContext('2d')
    if (!pen) return 0.6 * size * words.length
    pen.font = `${bold ? 600 : 400} ${size}px ${getComputedStyle(document.body).fontFamily}`
    width = pen.measureText(words).width
    if (known.size > 4000) known.clear()
    known.set(key, width)
  }
  return width
}

export function overlap(a: Box, b: Box): number {
  const wide = Math.min(a.x + a.width / 2, b.x + b.width / 2) - Math.max(a.x - a.width / 2, b.x - b.width / 2)
  const high = Math.min(a.y + a.height / 2, b.y + b.height / 2) - Math.max(a.y - a.height / 2, b.y - b.height / 2)
  return Math.max(wide, 0) * Math.max(high, 0)
}

export const holds = (box: Box, [x, y]: Point): boolean =>
  Math.abs(x - box.x) <= box.width / 2 && Math.abs(y - box.y) <= box.height / 2

export const within = (box: Box, frame: Box): boolean =>
  Math.abs(box.x - frame.x) <= (frame.width - box.width) / 2 + 1e-9 &&
  Math.abs(box.y - frame.y) <= (frame.height - box.height) / 2 + 1e-9

/** What is taken inside a frame: boxes, and points that may be covered at a price. */
export class Placer {
  taken: Box[] = []
  heavy: Point[] = []
  light: Point[] = []
  busy: Point[] = []

  constructor(readonly frame: Box) {}

  cost(box: Box): number {
    let cost = within(box, this.frame) ? 0 : 1e5
    for (const other of this.taken) cost += overlap(box, other)
    for (const point of this.heavy) if (holds(box, point)) cost += 60
    for (const point of this.light) if (holds(box, point)) cost += 3
    for (const point of this.busy) if (holds(box, point)) cost += 9
    return cost
  }

  /** The candidate with the least cost in all; it is taken then. */
  best(candidates: Iterable<{ own: number; box: Box }>): Box | null {
    let least = Infinity
    let found: Box | null = null
    for (const { own, box } of candidates) {
      const cost = own + (own < least ? this.cost(box) : 0)
      if (cost < least) [least, found] = [cost, box]
    }
    if (found) this.taken.push(found)
    return found
  }
}

/** Points about every `step` along a polyline. */
export function sampled(points: readonly Point[], step: number): Point[] {
  const found: Point[] = []
  let left = 0
  points.forEach(([x, y], index) => {
    const before = points[index - 1]
    if (before === undefined) {
      found.push([x, y])
      return
    }
    const length = Math.hypot(x - before[0], y - before[1])
    let at = step - left
    while (at <= length && length > 0) {
      found.push([before[0] + ((x - before[0]) * at) / length, before[1] + ((y - before[1]) * at) / length])
      at += step
    }
    left = length - (at - step)
  })
  return found
}

/** A place for a label on its own line. */
export interface OnLine {
  box: Box
  /** Turn, degrees clockwise. */
  turn: number
}

/** The place on a line where a label hides least and the line is straight; null where none fits. */
export function onLine(
  pieces: readonly (readonly Point[])[],
  width: number,
  height: number,
  placer: Placer,
  most: number,
): OnLine | null {
  let least = most
  let found: OnLine | null = null
  const longest = Math.max(0, ...pieces.map((piece) => piece.length))
  for (const piece of pieces) {
    const dense = sampled(piece, 10)
    const reach = Math.max(Math.trunc(width / 20), 1)
    for (let index = reach; index < dense.length - reach; index += 2) {
      const middle = dense[index]
      const start = dense[index - reach]
      const end = dense[index + reach]
      if (!middle || !start || !end) continue
      const turn = (Math.atan2(end[1] - start[1], end[0] - start[0]) * 180) / Math.PI
      if (Math.abs(turn) > 50) continue
      const tall = height + Math.abs(Math.sin((turn * Math.PI) / 180)) * width
      const box = { x: middle[0], y: middle[1], width, height: tall }
      if (!within(box, placer.frame)) continue
      const length = Math.max(Math.hypot(end[0] - start[0], end[1] - start[1]), 1e-6)
      const bent = Math.max(
        ...dense
          .slice(index - reach, index + reach + 1)
          .map(([x, y]) => Math.abs((end[0] - start[0]) * (y - start[1]) - (end[1] - start[1]) * (x - start[0])) / length),
      )
      let cost = 12 * bent ** 2 + 12 * Math.abs(index / dense.length - 0.5) + (piece.length === longest ? 0 : 6)
      for (const other of placer.taken) cost += overlap(box, other)
      for (const point of placer.busy) if (holds(box, point)) cost += 9
      if (cost < least) [least, found] = [cost, { box, turn }]
    }
  }
  if (found) placer.taken.push(found.box)
  return found
}

/** A polyline as path data. */
export const pathOf = (points: readonly Point[], closed = false): string =>
  points.length === 0
    ? ''
    : `M${points.map(([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`).join('L')}${closed ? 'Z' : ''}`
