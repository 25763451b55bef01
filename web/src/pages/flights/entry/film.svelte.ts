// A video of the pilot's, played from his own disc: the time of the frame shown, seeking, stepping.
import { SAME_S, Spacing, stated, step } from './frames'
import type { Size } from './pixels'

/** Spacings to choose from where the browser does not tell the time of a frame, s. */
export const STATED: readonly { words: string; seconds: number }[] = [
  { words: '24 a second', seconds: 1 / 24 },
  { words: '25 a second', seconds: 1 / 25 },
  { words: '30 a second', seconds: 1 / 30 },
  { words: '50 a second', seconds: 1 / 50 },
  { words: '60 a second', seconds: 1 / 60 },
  { words: '120 a second', seconds: 1 / 120 },
  { words: '240 a second', seconds: 1 / 240 },
]
/** A frame that is not told by then after a seek is the one shown before, ms. */
const TOLD_MS = 400
/** One told before the seek ended holds if no other is told by then, ms. */
const GRACE_MS = 50

export class Film {
  /** When the frame that is shown begins, s. */
  time = $state(0)
  duration = $state(0)
  frame = $state.raw<Size | null>(null)
  playing = $state(false)
  /** Stepping or seeking. */
  busy = $state(false)
  trouble = $state('')
  /** Chosen where the browser does not tell the time of frames, s. */
  statedS = $state(1 / 30)
  /** The browser tells the time of every frame. */
  readonly exact = typeof HTMLVideoElement !== 'undefined' && 'requestVideoFrameCallback' in HTMLVideoElement.prototype

  #video: HTMLVideoElement | null = null
  #spacing = new Spacing()
  #told: ((time: number) => void) | null = null
  #ended = false
  /** The frame shown was found by steps: what is told late of one that was passed on the way does not count. */
  #sure = false

  /** Watch a video element until the returned function is called. */
  attach(video: HTMLVideoElement): () => void {
    this.#video = video
    this.#ended = false
    let [before, shown] = [-1, -1]
    const frames = (_: number, about: VideoFrameCallbackMetadata): void => {
      if (this.#ended || this.#video !== video) return
      if (about.presentedFrames === shown + 1 && !video.seeking && this.playing) this.#spacing.learn(before, about.mediaTime)
      before = about.mediaTime
      shown = about.presentedFrames
      if (!this.busy && !this.#sure) this.time = about.mediaTime
      this.#told?.(about.mediaTime)
      video.requestVideoFrameCallback(frames)
    }
    if (this.exact) video.requestVideoFrameCallback(frames)
    return () => {
      this.#ended = true
      if (this.#video === video) this.#video = null
    }
  }

  /** Its size and length are known. A recording made by a browser tells its length only once its end was sought. */
  async loaded(): Promise<void> {
    const video = this.#video
    if (video === null) return
    if (video.videoWidth === 0) {
      this.trouble = 'This file has no picture that can be shown.'
      return
    }
    this.frame = { width: video.videoWidth, height: video.videoHeight }
    if (!Number.isFinite(video.duration)) {
      await this.#sought(video, 1e7)
      await this.#sought(video, 0)
    }
    this.duration = video.duration
    if (!this.exact) this.time = video.currentTime
  }

  failed(): void {
    const words = 'The browser cannot play this file. Save it as MP4 (H.264) or WebM and choose it again.'
    if (this.#video?.error) this.trouble = words
  }

  toggle(rate: number): void {
    const video = this.#video
    if (video === null) return
    this.#sure = false
    video.playbackRate = rate
    if (video.paused) void video.play().catch(() => this.failed())
    else video.pause()
  }

  pause(): void {
    this.#video?.pause()
  }

  /** Show what is at a time; resolves with the time of the frame shown. `expected`: of the frame that must come. */
  async seek(wanted: number, expected: number | null = null): Promise<number> {
    const video = this.#video
    if (video === null) return this.time
    this.#sure = false
    if (!this.exact) {
      await this.#sought(video, wanted)
      return (this.time = video.currentTime)
    }
    // The frame is told before or after the seek ends; one that was on its way before may be told too, so the last counts.
    let last: number | null = null
    let ended = false
    let settle: (time: number) => void = () => {}
    const told = new Promise<number>((resolve) => (settle = resolve))
    const fits = (time: number): boolean => expected === null || Math.abs(time - expected) < SAME_S
    this.#told = (time) => {
      last = time
      if (ended && fits(time)) settle(time)
    }
    await this.#sought(video, wanted)
    ended = true
    const before = last !== null && last <= wanted + SAME_S && fits(last)
    setTimeout(() => settle(last ?? this.time), before ? GRACE_MS : TOLD_MS)
    const time = await told
    this.#told = null
    if (!this.busy) this.time = time
    return time
  }

  /** Some frames on (1) or back (-1). */
  async step(way: 1 | -1, count = 1): Promise<void> {
    if (this.busy || this.#video === null) return
    this.pause()
    this.busy = true
    try {
      for (let n = 0; n < count; n++) {
        const before = this.time
        if (this.exact) {
          const seek = (time: number, expected?: number): Promise<number> => this.seek(time, expected)
          this.time = await step({ duration: this.duration, seek }, this.#spacing, before, way)
        } else {
          // The middle of a frame, so that rounding does not show its neighbour; its beginning is what counts.
          const time = stated(before, way, this.statedS, this.duration)
          await this.seek(Math.min(time + 0.5 * this.statedS, this.duration))
          this.time = time
        }
      }
      this.#sure = this.exact
    } finally {
      this.busy = false
    }
  }

  #sought(video: HTMLVideoElement, time: number): Promise<void> {
    return new Promise((resolve) => {
      video.addEventListener('seeked', () => resolve(), { once: true })
      video.currentTime = time
    })
  }
}
