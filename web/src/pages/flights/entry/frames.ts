// Stepping through a video frame by frame. A browser seeks to times, not frames, and the frames of many cameras are
// not evenly spaced: the time of what is shown is read from the browser, and the shortest spacing seen says how far to
// seek. A step that seeks too short shows the same frame again and goes on; one that seeks too far only leaves a
// frame out, the time read stays that of the frame shown.

/** The shortest spacing thought possible before one was seen, s. */
const FIRST_GUESS_S = 1 / 240
/** Frames farther apart are not looked for, s. */
const LONGEST_S = 1
/** Each try seeks so much farther than the last: less than twice, so that no frame of an even spacing is passed over. */
const FARTHER = 1.35
const TRIES = 20
/** Two times closer than this are one frame, s. */
export const SAME_S = 0.0005

/** Spacing of frames, learned from their times. */
export class Spacing {
  #least = 0

  /** Shortest spacing seen, s; 0 before two frames were seen. */
  get least(): number {
    return this.#least
  }

  /** Two frames known to follow one another. */
  learn(from: number, to: number): void {
    const apart = Math.abs(to - from)
    if (apart < SAME_S || apart > LONGEST_S) return
    if (this.#least === 0 || apart < this.#least) this.#least = apart
  }

  /** Where to seek for the frame after or before the one that begins at `time`, by how often it was tried, s. */
  target(time: number, way: 1 | -1, tried: number): number {
    const step = (this.#least || FIRST_GUESS_S) * FARTHER ** tried
    // A little after a frame's beginning lies within it, however its time was rounded.
    return way === 1 ? time + step + 0.0004 : time - 0.5 * step
  }
}

/** What a stepper needs of a video: seek, and tell the time of the frame shown then. */
export interface Seekable {
  /** Length, s. */
  readonly duration: number
  seek: (time: number) => Promise<number>
}

/** Time of the frame after (1) or before (-1) the one that begins at `time`; the same time at an end. */
export async function step(video: Seekable, spacing: Spacing, time: number, way: 1 | -1): Promise<number> {
  for (let tried = 0; tried < TRIES; tried++) {
    const wanted = spacing.target(time, way, tried)
    if (Math.abs(wanted - time) > LONGEST_S) return time
    if (wanted < 0 || wanted > video.duration) {
      const end = await video.seek(way === 1 ? video.duration : 0)
      return way * (end - time) > SAME_S ? end : time
    }
    const shown = await video.seek(wanted)
    if (way * (shown - time) > SAME_S) {
      // What is found in small steps from the frame beside it is its neighbour.
      if (tried > 0 || spacing.least === 0) spacing.learn(time, shown)
      return shown
    }
  }
  return time
}

/** By a stated spacing instead, where the browser does not tell the time of frames: kept within the video. */
export function stated(time: number, way: 1 | -1, spacing: number, duration: number): number {
  const frame = Math.round(time / spacing) + way
  const last = Number.isFinite(duration) ? Math.max(Math.floor(duration / spacing - 1e-6), 0) : Infinity
  return Math.min(Math.max(frame, 0), last) * spacing
}
