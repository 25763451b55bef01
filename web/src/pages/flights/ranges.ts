// Axes of small pictures: where a value stands along a strip, and round marks on it.

export interface Axis {
  from: number
  to: number
  /** Part of the strip a value stands at, 0 to 1, within the strip. */
  at: (value: number) => number
  marks: number[]
}

const STEPS = [1, 2, 2.5, 5, 10]

/** A linear axis that holds all values, with up to seven round marks. */
export function linear(values: readonly number[]): Axis {
  const finite = values.filter(Number.isFinite)
  const low = Math.min(...finite)
  const high = Math.max(...finite)
  const room = 0.08 * Math.max(high - low, 0.02 * Math.abs(high), 1e-9)
  const from = low - room
  const to = high + room
  const rough = (to - from) / 6
  const ten = 10 ** Math.floor(Math.log10(rough))
  const step = ten * (STEPS.find((one) => one * ten >= rough) ?? 10)
  const marks: number[] = []
  for (let k = Math.ceil(from / step); k * step <= to; k++) marks.push(Number((k * step).toPrecision(10)))
  return { from, to, at: (value) => within((value - from) / (to - from)), marks }
}

const FACTORS = [0.25, 0.33, 0.5, 0.67, 0.8, 1, 1.25, 1.5, 2, 3, 4]

/** An axis of factors: half and double stand equally far from 1; holds 0.8 to 1.25 at least and 0.2 to 5 at most. */
export function factors(values: readonly number[]): Axis {
  const sound = values.filter((value) => Number.isFinite(value) && value > 0)
  const from = Math.max(0.2, Math.min(0.8, ...sound) / 1.04)
  const to = Math.min(5, Math.max(1.25, ...sound) * 1.04)
  const log = (value: number): number => Math.log(Math.max(value, 1e-9))
  const marks = FACTORS.filter((mark) => mark >= from && mark <= to)
  return { from, to, at: (value) => within((log(value) - log(from)) / (log(to) - log(from))), marks }
}

const within = (part: number): number => Math.max(0, Math.min(1, part))

/** How far off a piece is, in words that do not need the colour. */
export function offWords(sigma: number, outlier: boolean): string {
  const size = Math.abs(sigma)
  const figure = size.toFixed(1)
  if (outlier) return `${figure} sigma off: an outlier`
  if (size < 1) return `${figure} sigma off: fits`
  return size < 2 ? `${figure} sigma off: usual` : `${figure} sigma off: rare`
}

/** A probability in words, with its percent. */
export function likely(probability: number): string {
  const percent = Math.round(100 * probability)
  const figure = percent < 1 ? 'below 1\u202f%' : percent > 99 ? 'above 99\u202f%' : `${percent}\u202f%`
  const word =
    probability >= 0.9 ? 'almost certain' : probability >= 0.6 ? 'likely' : probability >= 0.3 ? 'quite possible' : probability >= 0.05 ? 'possible' : 'unlikely'
  return `${word}, ${figure}`
}
