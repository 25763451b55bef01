import { expect, it } from 'vitest'
import { mixed, wavFile } from './wav'

async function read(file: Blob): Promise<DataView> {
  return new DataView(await file.arrayBuffer())
}

const text = (bytes: DataView, at: number, length: number): string =>
  Array.from({ length }, (_, k) => String.fromCharCode(bytes.getUint8(at + k))).join('')

it('writes the head a reader looks for', async () => {
  const bytes = await read(wavFile(new Float32Array(100), 22050))
  expect([text(bytes, 0, 4), text(bytes, 8, 8), text(bytes, 36, 4)]).toEqual(['RIFF', 'WAVEfmt ', 'data'])
  expect(bytes.byteLength).toBe(244)
  expect(bytes.getUint32(4, true)).toBe(236)
  expect(bytes.getUint32(40, true)).toBe(200)
  expect([bytes.getUint16(20, true), bytes.getUint16(22, true), bytes.getUint16(34, true)]).toEqual([1, 1, 16])
  expect([bytes.getUint32(24, true), bytes.getUint32(28, true)]).toEqual([22050, 44100])
})

it('writes samples to full scale and cuts off what is louder', async () => {
  const bytes = await read(wavFile(new Float32Array([0, 1, -1, 2, -2, 0.5]), 8000))
  const found = Array.from({ length: 6 }, (_, k) => bytes.getInt16(44 + 2 * k, true))
  expect(found).toEqual([0, 32767, -32767, 32767, -32767, 16384])
})

it('mixes channels to their mean', () => {
  expect([...mixed([new Float32Array([1, 0]), new Float32Array([0, 0.5])])]).toEqual([0.5, 0.25])
  expect(mixed([])).toHaveLength(0)
})
