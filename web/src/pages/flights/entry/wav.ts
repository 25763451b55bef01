// Samples as a WAV file: one channel, 16 bit, as the reader of sound takes it.

const HEAD = 44

/** A WAV file of samples from -1 to 1; what lies beyond is cut off. */
export function wavFile(samples: Float32Array, rate: number): Blob {
  const bytes = new DataView(new ArrayBuffer(HEAD + 2 * samples.length))
  const word = (at: number, text: string): void => {
    for (let k = 0; k < text.length; k++) bytes.setUint8(at + k, text.charCodeAt(k))
  }
  word(0, 'RIFF')
  bytes.setUint32(4, HEAD - 8 + 2 * samples.length, true)
  word(8, 'WAVEfmt ')
  bytes.setUint32(16, 16, true)
  bytes.setUint16(20, 1, true)
  bytes.setUint16(22, 1, true)
  bytes.setUint32(24, rate, true)
  bytes.setUint32(28, 2 * rate, true)
  bytes.setUint16(32, 2, true)
  bytes.setUint16(34, 16, true)
  word(36, 'data')
  bytes.setUint32(40, 2 * samples.length, true)
  samples.forEach((sample, k) => {
    const value = Math.max(-1, Math.min(1, sample))
    bytes.setInt16(HEAD + 2 * k, Math.round(value * 32767), true)
  })
  return new Blob([bytes.buffer], { type: 'audio/wav' })
}

/** Several channels as one: their mean. */
export function mixed(channels: Float32Array[]): Float32Array {
  const first = channels[0] ?? new Float32Array()
  if (channels.length < 2) return first
  return first.map((_, k) => channels.reduce((sum, one) => sum + (one[k] ?? 0), 0) / channels.length)
}
