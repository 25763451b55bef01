// A spectrogram as pixels: loudness as it came, in the page's own colours, low notes below.

export type Colour = [number, number, number]

/** Bytes of base64. */
export function bytesOf(text: string): Uint8Array {
  const raw = atob(text)
  return Uint8Array.from(raw, (letter) => letter.charCodeAt(0))
}

/** Red, green, blue of a colour token: `#rrggbb` or `#rgb`. */
export function colourOf(token: string): Colour {
  const digits = token.trim().replace('#', '')
  const full = digits.length === 3 ? [...digits].map((digit) => digit + digit).join('') : digits
  if (!/^[0-9a-f]{6}/i.test(full)) return [128, 128, 128]
  const value = Number.parseInt(full.slice(0, 6), 16)
  return [value >> 16, (value >> 8) & 255, value & 255]
}

/**
 * Pixels, four bytes each, row by row from the top: the highest frequency first.
 *
 * `level` is one byte each, row by row from the lowest frequency; quiet is `ground`, loud is `ink`.
 */
export function pixelsOf(level: Uint8Array, columns: number, rows: number, ground: Colour, ink: Colour): Uint8ClampedArray<ArrayBuffer> {
  const pixels = new Uint8ClampedArray(4 * columns * rows)
  for (let row = 0; row < rows; row++)
    for (let column = 0; column < columns; column++) {
      const share = (level[(rows - 1 - row) * columns + column] ?? 0) / 255
      const at = 4 * (row * columns + column)
      for (let part = 0; part < 3; part++) pixels[at + part] = (ground[part] ?? 0) + share * ((ink[part] ?? 0) - (ground[part] ?? 0))
      pixels[at + 3] = 255
    }
  return pixels
}

/** Where a frequency lies among rising rows, 0 at the first and 1 at the last; null beyond them. */
export function heightOf(frequencies: readonly number[], frequency: number): number | null {
  const last = frequencies.length - 1
  if (last < 1 || frequency < (frequencies[0] ?? 0) || frequency > (frequencies[last] ?? 0)) return null
  const above = frequencies.findIndex((row) => row >= frequency)
  if (above <= 0) return 0
  const [low, high] = [frequencies[above - 1] ?? 0, frequencies[above] ?? 0]
  return (above - 1 + (frequency - low) / (high - low || 1)) / last
}
