// Units of the plane file's keys, pinned to Python by a test that reads the same table.
import table from './units.json'

interface Unit {
  symbol: string
  factor: number
  shift?: number
  inverse?: boolean
}

const KINDS = table as Record<string, Record<string, Unit>>

function toSi(unit: Unit, value: number): number {
  return unit.inverse ? unit.factor / value : unit.factor * value + (unit.shift ?? 0)
}

function fromSi(unit: Unit, value: number): number {
  return unit.inverse ? unit.factor / value : (value - (unit.shift ?? 0)) / unit.factor
}

const endsIn = (key: string, suffix: string): boolean => key === suffix || key.endsWith(`_${suffix}`)

export interface Ending {
  /** Units of the same kind, by key ending. */
  units: Record<string, Unit>
  /** Ending of the key at hand. */
  suffix: string
}

/** The unit a key ends in, found among the kinds that also know its other endings; null without one. */
export function ending(path: string, others: readonly string[]): Ending | null {
  const key = path.slice(path.lastIndexOf('.') + 1)
  for (const units of Object.values(KINDS)) {
    if (!others.every((other) => other in units)) continue
    const fits = Object.keys(units).filter((suffix) => endsIn(key, suffix))
    const suffix = fits.sort((a, b) => b.length - a.length)[0]
    if (suffix !== undefined && !others.includes(suffix)) return { units, suffix }
  }
  return null
}

export function symbol(end: Ending, suffix: string): string {
  const unit = end.units[suffix]
  return unit === undefined || unit.symbol === '' ? 'fraction' : unit.symbol
}

/** The key with another ending. */
export function rekeyed(path: string, end: Ending, suffix: string): string {
  return path.slice(0, path.length - end.suffix.length) + suffix
}

/** A value and its spread in another unit, freed of the digits that only arithmetic made. */
export function converted(value: number, spread: number | null, end: Ending, suffix: string): [number, number | null] {
  const from = end.units[end.suffix]
  const to = end.units[suffix]
  if (from === undefined || to === undefined) return [value, spread]
  const si = toSi(from, value)
  const made = fromSi(to, si)
  if (spread === null) return [tidy(made), null]
  const steps = [fromSi(to, toSi(from, value + spread)), fromSi(to, toSi(from, value - spread))] as const
  return [tidy(made), tidy(Math.abs(steps[0] - steps[1]) / 2)]
}

function tidy(value: number): number {
  return Number(value.toPrecision(7))
}
