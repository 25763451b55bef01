// Numbers as they are shown: rounded to what they deserve, always with a unit, a real minus sign.
const MINUS = '\u2212'
const THIN = '\u202f'
/** A unit as it stands after its number: degrees without a gap. */
const after = (unit: string): string => (unit === '\u00b0' ? unit : THIN + unit)

export function fixed(value: number, digits = 1): string {
  const text = Math.abs(value).toFixed(digits)
  return value < 0 && Number(text) !== 0 ? MINUS + text : text
}

export function signed(value: number, digits = 1): string {
  const text = fixed(value, digits)
  return value > 0 && Number(value.toFixed(digits)) !== 0 ? `+${text}` : text
}

export function withUnit(value: number | null | undefined, unit: string, digits = 1): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return '\u2013'
  return unit === '' ? fixed(value, digits) : `${fixed(value, digits)}${after(unit)}`
}

export function spread(value: number, sigma: number | null, unit: string, digits = 1): string {
  if (sigma === null) return withUnit(value, unit, digits)
  return `${fixed(value, digits)} \u00b1 ${fixed(sigma, digits)}${after(unit)}`
}

export const speed = (value: number | null | undefined): string => withUnit(value, 'm/s')
export const degrees = (value: number | null | undefined, digits = 1): string =>
  value === null || value === undefined || !Number.isFinite(value) ? '\u2013' : `${fixed(value, digits)}\u00b0`
export const percent = (value: number | null | undefined): string => withUnit(value, '%', 0)
/** Shaft speed: known to some percent, so to ten turns a minute. */
export const turns = (rpm: number | null | undefined): string => withUnit(typeof rpm === 'number' ? 10 * Math.round(rpm / 10) : rpm, 'rpm', 0)
