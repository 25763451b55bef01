// Slope against stick in the drawing: up is climbing, down is down.
import { degrees, fixed, percent } from '../../lib/format'
import type { QuickPage, StickPoint } from '../../lib/generated/pages'
import { pathOf, Placer, type Point, widthOf } from './labels'

export class StickFrame {
  readonly left = 46
  readonly top = 24
  readonly right: number
  readonly bottom: number
  readonly height: number

  constructor(readonly width: number) {
    this.right = width - 14
    this.bottom = this.top + Math.min(Math.max(width * 0.7, 330), 430)
    this.height = this.bottom + 44
  }
  x = (stick: number): number => this.left + ((this.right - this.left) * stick) / 100
  y = (slope: number): number => (this.top + this.bottom) / 2 - ((this.bottom - this.top) * slope) / 180
}

const HOLDS = new Set(['ok', 'several_speeds', 'beyond_data', 'inside_closed_band'])

/** True where a stick holds the wanted speed. */
export const heldAt = (point: StickPoint): boolean => HOLDS.has(point.status)

/** A curve through every point where a stick holds. */
export function curve(points: readonly StickPoint[], frame: StickFrame): string {
  let d = ''
  let run: Point[] = []
  const close = (): void => {
    if (run.length > 1) d += pathOf(run)
    run = []
  }
  for (const point of points) {
    if (heldAt(point)) run.push([frame.x(point.stick_percent), frame.y(point.slope_deg)])
    else close()
  }
  close()
  return d
}

/** Bars along the ends of the stick where none holds. */
export function ends(points: readonly StickPoint[], frame: StickFrame, aside: number): string {
  return points
    .filter((point) => !heldAt(point))
    .map((point) => {
      const x = frame.x(point.stick_percent) + (point.stick_percent > 50 ? -aside : aside)
      return `M${x.toFixed(1)} ${(frame.y(point.slope_deg) - 3.5).toFixed(1)}l4 3.5l-4 3.5l-4 -3.5z`
    })
    .join('')
}

export interface CurveWords {
  words: string[]
  x: number
  y: number
  anchor: 'start' | 'middle' | 'end'
  cls: string
}

/** The names of both curves and what the ends mean, off each other and off the curves. */
export function stickWords(page: QuickPage, frame: StickFrame): CurveWords[] {
  const placer = new Placer({
    x: (frame.left + frame.right) / 2,
    y: (frame.top + frame.bottom) / 2,
    width: frame.right - frame.left,
    height: frame.bottom - frame.top,
  })
  const at = (point: StickPoint): Point => [frame.x(point.stick_percent), frame.y(point.slope_deg)]
  const dense = (points: readonly StickPoint[]): Point[] =>
    points.flatMap((point, k) => {
      const next = points[k + 1]
      const [x, y] = at(point)
      if (!next) return [[x, y] as Point]
      const [nx, ny] = at(next)
      return [0, 0.25, 0.5, 0.75].map((s): Point => [x + s * (nx - x), y + s * (ny - y)])
    })
  placer.heavy = [...dense(page.with_crow), ...dense(page.without_crow)]
  if (page.threshold_percent !== null) {
    const x = frame.x(page.threshold_percent)
    placer.light = Array.from({ length: 40 }, (_, k): Point => [x, frame.top + (k * (frame.bottom - frame.top)) / 39])
  }
  const found: CurveWords[] = []
  const put = (words: string[], near: Point, cls: string): void => {
    const width = Math.max(...words.map((line) => widthOf(line, 13.5))) + 6
    const height = 18 * words.length
    const candidates = [14, 26, 44, 70, 100].flatMap((far) =>
      [-1, 1].flatMap((side) =>
        [0, -0.6, 0.6, -1.4, 1.4].map((rise) => ({
          own: 1.2 * far + 8 * Math.abs(rise),
          box: { x: near[0] + side * (far + width / 2), y: near[1] + rise * 24, width, height },
        })),
      ),
    )
    const box = placer.best(candidates)
    if (box) found.push({ words, x: box.x, y: box.y - height / 2 + 9, anchor: 'middle', cls })
  }
  const differ = page.with_crow.map((point, k) => Math.abs(point.stick_percent - (page.without_crow[k]?.stick_percent ?? 0)))
  const most = Math.max(...differ)
  const held = (points: readonly StickPoint[], want: number): StickPoint | undefined =>
    points.filter(heldAt).reduce<StickPoint | undefined>(
      (best, point) =>
        !best || Math.abs(point.slope_deg - want) < Math.abs(best.slope_deg - want) ? point : best,
      undefined,
    )
  if (most > 0.5) {
    const crow = held(page.with_crow, -50)
    const clean = held(page.without_crow, -12)
    if (crow) put(['with crow'], at(crow), 'p b')
    if (clean) put(['without crow'], at(clean), 'g')
  } else {
    const crow = held(page.with_crow, 20)
    if (crow) put(['holding stick'], at(crow), 'p b')
  }
  for (const [points, name] of [[page.with_crow, 'with crow'], [page.without_crow, 'without crow']] as const) {
    if (name === 'without crow' && most <= 0.5) continue
    for (const status of ['stick_at_closed_end', 'stick_at_open_end'] as const) {
      const there = points.filter((point) => point.status === status)
      const middle = there[Math.floor(there.length / 2)]
      if (!middle) continue
      const said = status === 'stick_at_closed_end' ? 'faster than wanted' : 'slower than wanted'
      const where = status === 'stick_at_closed_end' ? 'even closed' : 'even at full stick'
      const words = most <= 0.5 ? [said, where] : [`${name}:`, said, where]
      put(words, at(middle), name === 'with crow' ? 'p' : 'g')
    }
  }
  return found
}

/** Slope that the brake's step is worth, and where it stands. */
export function stepMark(page: QuickPage, frame: StickFrame): { d: string; x: number; y: number; slope: number } | null {
  const down = page.lines.find((line) => line.shares.slope_deg < -89)
  const weight = Math.abs(down?.shares.weight_along_n ?? 0)
  if (weight === 0 || Math.abs(page.brake_step_n) < 0.05) return null
  const first = page.with_crow.find((point) => heldAt(point) && point.stick_percent >= page.closed_below_percent)
  if (!first) return null
  const share = Math.sin((first.slope_deg * Math.PI) / 180) - page.brake_step_n / weight
  const to = (Math.asin(Math.min(Math.max(share, -1), 1)) * 180) / Math.PI
  const x = frame.x(page.start_percent)
  const [a, b] = [frame.y(first.slope_deg), frame.y(to)]
  return { d: `M${x - 5} ${a}h10M${x} ${a}V${b}M${x - 5} ${b}h10`, x, y: (a + b) / 2, slope: Math.abs(to - first.slope_deg) }
}

/** What the picture says, in a sentence. */
export function stickReading(page: QuickPage): string {
  const none = page.with_crow.filter((point) => !heldAt(point))
  const fast = none.filter((point) => point.status === 'stick_at_closed_end').map((point) => point.slope_deg)
  const slow = none.filter((point) => point.status === 'stick_at_open_end').map((point) => point.slope_deg)
  const band = page.with_crow.filter((point) => point.status === 'inside_closed_band')
  const said: string[] = []
  if (fast.length > 0) said.push(`steeper than ${degrees(Math.max(...fast), 0)} no stick holds ${fixed(page.wanted_speed_m_s)} m/s: faster even closed`)
  if (slow.length > 0) said.push(`above ${degrees(Math.min(...slow), 0)} full stick is too little`)
  if (band.length > 0) said.push(`${band.length === 1 ? 'one slope lies' : `${band.length} slopes lie`} in the closed band and are flown unsteadily`)
  const level = page.with_crow.find((point) => Math.abs(point.slope_deg) < 1)
  const down = page.with_crow.find((point) => point.slope_deg < -89)
  const head =
    down && heldAt(down) && level
      ? `From ${percent(down.stick_percent)} stick straight down to ${percent(level.stick_percent)} level`
      : level
        ? `Level at ${percent(level.stick_percent)} stick`
        : 'Holding stick'
  const step = Math.abs(page.brake_step_n) < 0.05 ? 'no step at the closed band' : `a step of ${fixed(page.brake_step_n)} N at the closed band`
  return `${head}; ${[...said, step].join('; ')}.`
}
