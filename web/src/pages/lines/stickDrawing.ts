// Slope against stick in the drawing: up is climbing, down is down.
import { degrees, fixed, percent } from '../../lib/format'
import type { QuickPage, StickPoint } from '../../lib/generated/pages'
import { pathOf, Placer, type Point, sampled, widthOf } from './labels'

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

/** A curve through every point where a stick holds; `unsteady` the part that reaches into the closed band. */
export function curve(points: readonly StickPoint[], frame: StickFrame, unsteady = false): string {
  const banded = (point: StickPoint | undefined): boolean => point?.status === 'inside_closed_band'
  if (unsteady)
    return points
      .map((point, k) => {
        const next = points[k + 1]
        if (!next || !heldAt(point) || !heldAt(next) || !(banded(point) || banded(next))) return ''
        return pathOf([point, next].map((one): Point => [frame.x(one.stick_percent), frame.y(one.slope_deg)]))
      })
      .join('')
  let d = ''
  let run: Point[] = []
  const close = (): void => {
    if (run.length > 1) d += pathOf(run)
    run = []
  }
  for (const point of points) {
    if (heldAt(point) && !banded(point)) run.push([frame.x(point.stick_percent), frame.y(point.slope_deg)])
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
  cls: string
}

/** Every word in the picture: curves, ends, threshold, closed band and step, off each other and off the curves. */
export function stickWords(page: QuickPage, frame: StickFrame, step: StepMark | null): CurveWords[] {
  const placer = new Placer({
    x: (frame.left + frame.right) / 2,
    y: (frame.top + frame.bottom) / 2,
    width: frame.right - frame.left - 4,
    height: frame.bottom - frame.top - 4,
  })
  const at = (point: StickPoint): Point => [frame.x(point.stick_percent), frame.y(point.slope_deg)]
  placer.heavy = [page.with_crow, page.without_crow].flatMap((points) => sampled(points.map(at), 8))
  const threshold = page.threshold_percent === null ? null : frame.x(page.threshold_percent)
  if (threshold !== null) {
    const tall = frame.bottom - frame.top
    placer.light = Array.from({ length: 40 }, (_, k): Point => [threshold, frame.top + (k * tall) / 39])
  }
  if (step) placer.taken.push({ x: step.x, y: step.y, width: 14, height: step.tall })
  const found: CurveWords[] = []
  const put = (words: string[], cls: string, size: number, spots: { own: number; x: number; y: number; side: number }[]): void => {
    const bold = cls.includes('b')
    const width = Math.max(...words.map((line) => widthOf(line, size, bold))) + 8
    const height = 17 * words.length
    const box = placer.best(
      spots.map(({ own, x, y, side }) => ({ own, box: { x: x + (side * width) / 2, y, width, height } })),
    )
    if (box) found.push({ words, x: box.x, y: box.y - height / 2 + 8.5, cls })
  }
  const around = ([x, y]: Point): { own: number; x: number; y: number; side: number }[] =>
    [10, 22, 40, 66, 100, 140].flatMap((far) =>
      [-1, 1].flatMap((side) =>
        [0, -0.7, 0.7, -1.5, 1.5, 2.4, -2.4, -4, -6, -8].map((rise) => ({
          own: 1.2 * far + 9 * Math.abs(rise),
          x: x + side * far,
          y: y + rise * 22,
          side,
        })),
      ),
    )
  const closed = frame.x(page.closed_below_percent)
  const band = closed - frame.left
  placer.taken.push({ x: frame.left + band / 2, y: placer.frame.y, width: band, height: frame.bottom - frame.top })
  put([`motor held closed below ${percent(page.closed_below_percent)}`], 'g small', 12.5, [
    { own: 0, x: closed + 4, y: frame.top + 13, side: 1 },
    { own: 5, x: closed + 4, y: frame.top + 32, side: 1 },
  ])
  if (step) {
    const y = Math.min(Math.max(step.y, frame.top + 12), frame.bottom - 12)
    put([`step ${fixed(page.brake_step_n)} N,`, `${degrees(step.slope, 0)} of slope`], 'w small', 12.5, around([step.x, y]))
  }
  const differ = page.with_crow.map((point, k) => Math.abs(point.stick_percent - (page.without_crow[k]?.stick_percent ?? 0)))
  const alike = Math.max(...differ) <= 0.5
  const held = (points: readonly StickPoint[], want: number): StickPoint | undefined =>
    points
      .filter(heldAt)
      .reduce<StickPoint | undefined>(
        (best, point) =>
          !best || Math.abs(point.slope_deg - want) < Math.abs(best.slope_deg - want) ? point : best,
        undefined,
      )
  const crow = held(page.with_crow, alike ? 20 : -55)
  const clean = alike ? undefined : held(page.without_crow, -14)
  if (crow) put([alike ? 'holding stick' : 'with crow'], 'p b', 13.5, around(at(crow)))
  if (clean) put(['without crow'], 'g', 13.5, around(at(clean)))
  for (const [points, name] of [[page.with_crow, 'with crow'], [page.without_crow, 'without crow']] as const) {
    if (name === 'without crow' && alike) continue
    for (const status of ['stick_at_closed_end', 'stick_at_open_end'] as const) {
      const there = points.filter((point) => point.status === status)
      const middle = there[Math.floor(there.length / 2)]
      if (!middle) continue
      const said = status === 'stick_at_closed_end' ? 'faster than wanted' : 'slower than wanted'
      const where = status === 'stick_at_closed_end' ? 'even closed' : 'even at full stick'
      put(alike ? [said, where] : [`${name}:`, said, where], `${name === 'with crow' ? 'p' : 'g'} small`, 12.5, around(at(middle)))
    }
  }
  if (threshold !== null) {
    const spots = Array.from({ length: 22 }, (_, k) => frame.bottom - 12 - (k * (frame.bottom - frame.top - 24)) / 21)
    put(
      [`crow begins ${percent(page.threshold_percent)}`],
      'p small',
      12.5,
      spots.flatMap((y, k) => [-1, 1].map((side) => ({ own: 2 * k, x: threshold + 3 * side, y, side }))),
    )
  }
  return found
}

export interface StepMark {
  d: string
  x: number
  y: number
  tall: number
  /** Degrees of slope it is worth. */
  slope: number
}

/** Slope that the brake's step is worth, and where it stands. */
export function stepMark(page: QuickPage, frame: StickFrame): StepMark | null {
  const down = page.lines.find((line) => line.shares.slope_deg < -89)
  const weight = Math.abs(down?.shares.weight_along_n ?? 0)
  if (weight === 0 || Math.abs(page.brake_step_n) < 0.05) return null
  const first = page.with_crow.find((point) => point.status === 'ok' && point.stick_percent >= page.closed_below_percent)
  if (!first) return null
  const share = Math.sin((first.slope_deg * Math.PI) / 180) - page.brake_step_n / weight
  const to = (Math.asin(Math.min(Math.max(share, -1), 1)) * 180) / Math.PI
  const x = frame.x(page.start_percent)
  const [a, b] = [frame.y(first.slope_deg), frame.y(to)]
  return { d: `M${x - 5} ${a}h10M${x} ${a}V${b}M${x - 5} ${b}h10`, x, y: (a + b) / 2, tall: Math.abs(b - a) + 4, slope: Math.abs(to - first.slope_deg) }
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
  if (band.length > 0) said.push(`${band.length === 1 ? 'one slope lies in the closed band and is' : `${band.length} slopes lie in the closed band and are`} flown unsteadily`)
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
