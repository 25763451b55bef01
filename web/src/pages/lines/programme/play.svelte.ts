// The playhead: a time on the flight, moved by hand or running at the pace of the flight.

/** With little motion wanted it goes on in steps, s. */
const STEP_S = 1

export class Play {
  /** s from the beginning. */
  time = $state(0)
  running = $state(false)
  #frame = 0
  #last = 0

  constructor(
    /** End of the flight, s. */
    readonly end: () => number,
  ) {
    $effect(() => () => this.stop())
  }

  /** Put the playhead somewhere; what runs goes on from there. */
  to(time: number): void {
    this.time = Math.min(Math.max(time, 0), this.end())
  }

  start(): void {
    if (this.running) return
    if (this.time >= this.end() - 0.01) this.time = 0
    this.running = true
    this.#last = performance.now()
    this.#frame = requestAnimationFrame(this.#on)
  }

  stop(): void {
    cancelAnimationFrame(this.#frame)
    this.running = false
  }

  toggle(): void {
    if (this.running) this.stop()
    else this.start()
  }

  #on = (now: number): void => {
    const least = matchMedia('(prefers-reduced-motion: reduce)').matches ? STEP_S : 0
    const gone = Math.max(now - this.#last, 0) / 1000
    if (gone >= least) {
      this.#last = now
      this.to(this.time + gone)
    }
    if (this.time >= this.end()) this.stop()
    else this.#frame = requestAnimationFrame(this.#on)
  }
}
