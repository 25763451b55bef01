import { expect, it } from 'vitest'
import { Spacing, stated, step, type Seekable } from './frames'

/** A video of frames that begin at these times; counts how often it was sought. */
function video(times: number[], duration: number): Seekable & { sought: number } {
  return {
    duration,
    sought: 0,
    seek(time) {
      this.sought++
      return Promise.resolve(times.filter((begin) => begin <= time + 1e-9).at(-1) ?? times[0] ?? 0)
    },
  }
}

async function walk(film: Seekable, from: number, way: 1 | -1, count: number): Promise<number[]> {
  const spacing = new Spacing()
  const seen = [from]
  for (let n = 0; n < count; n++) seen.push(await step(film, spacing, seen.at(-1) ?? 0, way))
  return seen
}

for (const rate of [24, 25, 30, 60, 120, 240]) {
  it(`finds every frame of ${rate} a second, there and back`, async () => {
    const times = Array.from({ length: 20 }, (_, k) => k / rate)
    const film = video(times, 20 / rate)
    expect(await walk(film, 0, 1, 19)).toEqual(times)
    expect(await walk(film, times.at(-1) ?? 0, -1, 19)).toEqual([...times].reverse())
  })
}

it('needs hardly more than one seek a frame once the spacing is known', async () => {
  const times = Array.from({ length: 60 }, (_, k) => k / 30)
  const film = video(times, 2)
  await walk(film, 0, 1, 50)
  expect(film.sought).toBeLessThan(1.7 * 50)
})

for (const times of [
  [0, 0.0334, 0.0501, 0.1168, 0.15, 0.31, 0.3434, 0.3767],
  [0, 0.065, 0.095, 0.125, 0.19, 0.22, 0.25, 0.315, 0.345, 0.375],
])
  it(`finds every frame of ${times.length} that are not evenly spaced`, async () => {
    const film = video(times, 0.41)
    expect(await walk(film, 0, 1, times.length - 1)).toEqual(times)
    expect(await walk(film, times.at(-1) ?? 0, -1, times.length - 1)).toEqual([...times].reverse())
  })

it('notices a film that becomes faster within a few steps, and tells true times meanwhile', async () => {
  const slow = Array.from({ length: 10 }, (_, k) => k / 30)
  const fast = Array.from({ length: 40 }, (_, k) => 9 / 30 + (k + 1) / 60)
  const times = [...slow, ...fast]
  const seen = await walk(video(times, 2), 0, 1, 40)
  for (const time of seen) expect(times).toContain(time)
  const places = seen.map((time) => times.indexOf(time))
  const passed = places.filter((place, k) => k > 0 && place - (places[k - 1] ?? 0) > 1).length
  expect(passed).toBeLessThanOrEqual(5)
  expect(places.slice(-20).every((place, k, all) => k === 0 || place - (all[k - 1] ?? 0) === 1)).toBe(true)
})

it('leaves the frame shown that it tells', async () => {
  const times = [0, 0.065, 0.095, 0.125, 0.19]
  const film = video(times, 0.3)
  let shown = 0
  const watched = { duration: film.duration, seek: async (time: number) => (shown = await film.seek(time)) }
  const spacing = new Spacing()
  for (const time of times.slice(0, -1)) expect(await step(watched, spacing, time, 1)).toBe(shown)
})

it('passes over nothing when frames are far apart', async () => {
  const times = [0, 0.105, 0.166, 0.7]
  expect(await walk(video(times, 0.8), 0, 1, 3)).toEqual(times)
})

it('stays at the ends', async () => {
  const film = video([0, 0.04, 0.08], 0.12)
  expect(await walk(film, 0.08, 1, 2)).toEqual([0.08, 0.08, 0.08])
  expect(await walk(film, 0, -1, 2)).toEqual([0, 0, 0])
})

it('learns only from spacings that may be one frame', () => {
  const spacing = new Spacing()
  spacing.learn(1, 1)
  spacing.learn(1, 4)
  expect(spacing.least).toBe(0)
  spacing.learn(2, 1.96)
  spacing.learn(3, 3.1)
  expect(spacing.least).toBeCloseTo(0.04, 9)
})

it('steps by a stated spacing within the video', () => {
  expect(stated(0.04, 1, 0.04, 10)).toBeCloseTo(0.08, 12)
  expect(stated(0, -1, 0.04, 10)).toBe(0)
  expect(stated(9.96, 1, 0.04, 10)).toBeCloseTo(9.96, 12)
  expect(stated(0.05, 1, 0.04, Number.POSITIVE_INFINITY)).toBeCloseTo(0.08, 12)
})
