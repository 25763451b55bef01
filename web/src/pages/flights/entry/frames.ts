// Stepping through a video frame by frame. A browser seeks to times, not frames, and the frames of many cameras are
// not evenly spaced: the time of what is shown is read from the browser, and the shortest spacing seen says how far to
// seek. A seek that is too short shows the same frame again and goes on; one that is too far is noticed by looking at
// what lies just before the frame found, until the spacing has proved even.

/** The shortest spacing thought possible before one was seen, s. */
const FIRST_GUESS_S = 1 / 240
/** Frames farther apart are not looked for, s. */
const LONGEST_S = 1
/** Each try seeks so much farther than the last: less than twice, so that no frame of an even spacing is passed over. */
const FARTHER = 1.35
const TRIES = 20
/** Within a frame, however its beginning was rounded; and before it, s. */
const AFTER_S = 0.0004
const BEFORE_S = 0.002
/** Two times closer than this are one frame, s. */
export const SAME_S = 0.0005
/** After so many spacings alike one like them is believed, but not more in a row than so many. */
const ENOUGH = 3
const IN_A_ROW = 5
const ALIKE = 0.03

/** Spacing of frames, learned from their times. */
export class Spacing {
  #least = 0
  #checked = 0
  #believed = 0

  /** Shortest spacing seen, s; 0 before two frames were seen. */
  get least(): number {
    return this.#least
  }

  /** Two frames that follow one another; `checked` where nothing lies between them for certain. */
  learn(from: number, to: number, checked = false): void {
    const apart = Math.abs(to - from)
    if (apart < SAME_S || apart > LONGEST_S) return
    if (checked) this.#checked = this.#alike(apart) ? this.#checked + 1 : 0
    if (this.#least === 0 || apart < this.#least) this.#least = apart
  }

  /** Nothing lies between two frames so far apart, as far as was seen. */
  believes(apart: number): boolean {
    const believed = this.#checked >= ENOUGH && this.#believed < IN_A_ROW && this.#alike(apart)
    this.#believed = believed ? this.#believed + 1 : 0
    return believed
  }

  /** How far on to seek for the next frame, by how often it was tried, s. */
  on(tried: number): number {
    return (this.#least || FIRST_GUESS_S) * FARTHER ** tried + AFTER_S
  }

  #alike(apart: number): boolean {
    return Math.abs(apart - this.#least) < ALIKE * this.#least
  }
}

/** What a stepper needs of a video: seek, and tell the time of the frame shown then. */
export interface Seekable {
  /** Length, s. */
  readonly duration: number
  /** `expected`: the frame that must be shown then, where it is known. */
  seek: (time: number, expected?: number) => Promise<number>
}

/** Time of the frame after (1) or before (-1) the one that begins at `time`; the same time at an end. It is shown. */
export async function step(video: Seekable, spacing: Spacing, time: number, way: 1 | -1): Promise<number> {
  if (way === -1) return before(video, time)
  let found = await after(video, spacing, time)
  if (found - time <= SAME_S || spacing.believes(found - time)) return found
  for (let tried = 0; tried < TRIES; tried++) {
    const between = await before(video, found)
    if (between - time <= SAME_S) break
    found = between
  }
  spacing.learn(time, found, true)
  await video.seek(Math.min(found + AFTER_S, video.duration), found)
  return found
}

/** A frame after the one that begins at `time`: the next, or one a little farther. */
async function after(video: Seekable, spacing: Spacing, time: number): Promise<number> {
  for (let tried = 0; tried < TRIES && spacing.on(tried) < LONGEST_S; tried++) {
    const wanted = Math.min(time + spacing.on(tried), video.duration)
    const shown = await video.seek(wanted)
    if (shown - time > SAME_S) return shown
    if (wanted === video.duration) break
  }
  return time
}

/** The frame before the one that begins at `time`: what is shown just before. */
async function before(video: Seekable, time: number): Promise<number> {
  for (let tried = 0; tried < TRIES; tried++) {
    const wanted = Math.max(time - BEFORE_S * FARTHER ** tried, 0)
    const shown = await video.seek(wanted)
    if (time - shown > SAME_S) return shown
    if (wanted === 0) break
  }
  return time
}

/** By a stated spacing instead, where the browser does not tell the time of frames: kept within the video. */
export function stated(time: number, way: 1 | -1, spacing: number, duration: number): number {
  const frame = Math.round(time / spacing) + way
  const last = Number.isFinite(duration) ? Math.max(Math.floor(duration / spacing - 1e-6), 0) : Infinity
  return Math.min(Math.max(frame, 0), last) * spacing
}
