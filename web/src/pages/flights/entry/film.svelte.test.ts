import { beforeEach, expect, it, vi } from 'vitest'
import { Film } from './film.svelte'

type Frames = (now: number, about: { mediaTime: number; presentedFrames: number }) => void

/** A video of these frames; tells each before or after its seek has ended. */
class Video extends EventTarget {
  requestVideoFrameCallback(tell: Frames): void {
    this.tell = tell
  }
  tell: Frames | null = null
  shown = 0
  count = 1
  seeking = false
  paused = true
  videoWidth = 640
  videoHeight = 360
  #at = 0

  constructor(
    readonly frames: number[],
    public duration: number,
    readonly early: () => boolean,
  ) {
    super()
  }
  pause(): void {}
  get currentTime(): number {
    return this.#at
  }
  set currentTime(time: number) {
    this.#at = time
    this.seeking = true
    const told = (): void => {
      const tell = this.tell
      this.tell = null
      tell?.(0, { mediaTime: this.frames.filter((frame) => frame <= time).at(-1) ?? 0, presentedFrames: (this.count += 1) })
    }
    const early = this.early()
    setTimeout(() => {
      if (early) told()
      setTimeout(() => {
        this.seeking = false
        if (time > 1e6) this.duration = 0.5
        this.dispatchEvent(new Event('seeked'))
        if (!early) setTimeout(told, 5)
      }, 2)
    }, 2)
  }
}

beforeEach(() => void vi.stubGlobal('HTMLVideoElement', Video))

const FRAMES = [0, 0.0334, 0.0501, 0.1168, 0.15, 0.31]

for (const [name, early] of [
  ['before', () => true],
  ['after', () => false],
] as const)
  it(`steps by frames that are told ${name} the seek ends`, async () => {
    const video = new Video(FRAMES, 0.5, early)
    const film = new Film()
    film.attach(video as unknown as HTMLVideoElement)
    expect(film.exact).toBe(true)
    await film.loaded()
    expect(film.duration).toBe(0.5)
    const seen = [film.time]
    for (let n = 0; n < 4; n++) {
      await film.step(1)
      seen.push(film.time)
    }
    for (const time of seen) expect(FRAMES).toContain(time)
    expect(new Set(seen).size).toBe(5)
    await film.step(-1)
    expect(film.time).toBeLessThan(seen.at(-1) ?? 0)
    expect(FRAMES).toContain(film.time)
    expect(film.busy).toBe(false)
  })

it('finds the length of a film that does not tell it', async () => {
  const video = new Video(FRAMES, Infinity, () => true)
  const film = new Film()
  film.attach(video as unknown as HTMLVideoElement)
  await film.loaded()
  expect(film.duration).toBe(0.5)
  expect(video.currentTime).toBe(0)
  expect(film.frame).toEqual({ width: 640, height: 360 })
})

it('has no picture to show of sound alone', async () => {
  const video = new Video([0], 1, () => true)
  video.videoWidth = 0
  const film = new Film()
  film.attach(video as unknown as HTMLVideoElement)
  await film.loaded()
  expect(film.frame).toBeNull()
  expect(film.trouble).toContain('no picture')
})
