// Notices a server that still holds its connection but does nothing any more: after some silence it is asked for its
// smallest file. Any answer will do.
const SILENCE_MS = 5000
const PATIENCE_MS = 4000

export class Heartbeat {
  #timer: ReturnType<typeof setTimeout> | undefined
  #running = false
  #checking = false
  #last = 0

  /** `lost` is called once no answer came in time. */
  constructor(readonly lost: () => void) {}

  start(): void {
    this.#running = true
    this.heard()
    this.#arm(SILENCE_MS)
  }

  stop(): void {
    this.#running = false
    clearTimeout(this.#timer)
  }

  /** Something came: no need to ask for a while. */
  heard(): void {
    this.#last = Date.now()
  }

  /** Ask now, for example when the page is looked at again. */
  check(): void {
    void this.#check()
  }

  #arm(delay: number): void {
    clearTimeout(this.#timer)
    if (this.#running) this.#timer = setTimeout(() => this.#due(), delay)
  }

  #due(): void {
    const silent = Date.now() - this.#last
    if (silent < SILENCE_MS) this.#arm(SILENCE_MS - silent)
    else if (document.visibilityState === 'hidden') this.#arm(SILENCE_MS)
    else void this.#check()
  }

  async #check(): Promise<void> {
    if (this.#checking || !this.#running) return
    this.#checking = true
    const asked = Date.now()
    let answered = true
    try {
      await fetch('/mark.svg', { method: 'HEAD', cache: 'no-store', signal: AbortSignal.timeout(PATIENCE_MS) })
      this.heard()
    } catch {
      answered = this.#last > asked
    }
    this.#checking = false
    if (!this.#running) return
    if (answered) this.#arm(SILENCE_MS)
    else this.lost()
  }
}
