import { expect, it } from 'vitest'
import { bytesOf, colourOf, heightOf, pixelsOf } from './spectrogram'

it('reads bytes of base64', () => {
  expect([...bytesOf(btoa(String.fromCharCode(0, 127, 255)))]).toEqual([0, 127, 255])
})

it('reads colours as the tokens write them', () => {
  expect(colourOf(' #0a5c63')).toEqual([10, 92, 99])
  expect(colourOf('#fff')).toEqual([255, 255, 255])
  expect(colourOf('blue')).toEqual([128, 128, 128])
})

it('puts low notes below and loud ones in ink', () => {
  // Two rows of three columns: the lower is loud in its last column.
  const pixels = pixelsOf(new Uint8Array([0, 0, 255, 51, 0, 0]), 3, 2, [255, 255, 255], [0, 0, 0])
  const grey = (row: number, column: number): number | undefined => pixels[4 * (row * 3 + column)]
  expect(grey(1, 2)).toBe(0)
  expect(grey(0, 0)).toBe(204)
  expect(grey(1, 0)).toBe(255)
  expect(pixels[3]).toBe(255)
})

it('finds a frequency among rows, evenly spaced or not', () => {
  expect(heightOf([0, 100, 200], 50)).toBe(0.25)
  expect(heightOf([100, 200, 400], 300)).toBe(0.75)
  expect(heightOf([100, 200, 400], 100)).toBe(0)
  expect(heightOf([100, 200, 400], 500)).toBeNull()
})
