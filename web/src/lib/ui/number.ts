// Numbers as a hand types them: decimal point or comma, a real minus sign or a hyphen.

/** The number typed, or null where it is none. */
export function typed(text: string): number | null {
  const plain = text.trim().replace(/[\u2212\u2013]/g, '-').replace(',', '.')
  if (!/^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(plain)) return null
  const value = Number(plain)
  return Number.isFinite(value) ? value : null
}

/** A value of the file as it stands in its entry. */
export function entry(value: number | boolean | string | null): string {
  if (value === null) return ''
  return String(value)
}

/** Words of the engine with the signs of print: plus-minus, a real minus before figures, degrees, microseconds. */
export function printed(words: string): string {
  return words
    .replaceAll('+-', '\u00b1')
    .replace(/(^|[\s(])-(?=\.?\d|[.,]?$)/g, '$1\u2212')
    .replace(/(\d) deg(?![\w/])/g, '$1\u00b0')
    .replace(/(\d) us(?!\w)/g, '$1 \u00b5s')
}
