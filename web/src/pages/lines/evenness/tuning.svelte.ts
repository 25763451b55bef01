// Tuning for a whole programme: started and stopped by hand, for it takes minutes; what was flown is kept.
import { Refusal } from '../../../lib/contract'
import type { AirAsk, EvennessPage } from '../../../lib/generated/pages'
import { live } from '../../../lib/live.svelte'

const CHANNEL = 'programme'

/** What a tuning is of. */
export interface Course {
  plane: string
  sequence: string
  winds_m_s: [number, ...number[]]
  air: AirAsk
  /** Of the plane file. */
  revision: number
  /** Hash of the sequence's content. */
  figures: string
}

export class Tuning {
  page = $state.raw<EvennessPage | null>(null)
  /** What the page is of. */
  of = $state.raw<Course | null>(null)
  trouble = $state.raw<Refusal | null>(null)
  /** What is being done; empty while nothing is. */
  busy = $state('')
  /** It was stopped before its end. */
  stopped = $state(false)

  #newest = 0

  async start(course: Course): Promise<void> {
    const mine = ++this.#newest
    const newest = (): boolean => mine === this.#newest
    const { plane, sequence, winds_m_s, air } = course
    this.busy = 'computing'
    this.stopped = false
    this.trouble = null
    const progress = (words: string): void => {
      if (newest()) this.busy = words
    }
    try {
      const page = await live.ask('programme', { plane, sequence, winds_m_s, air }, { channel: CHANNEL, progress })
      if (!newest()) return
      if (page === null) this.stopped = true
      else [this.page, this.of] = [page, course]
    } catch (reason) {
      if (newest()) this.trouble = reason instanceof Refusal ? reason : new Refusal(String(reason))
    } finally {
      if (newest()) this.busy = ''
    }
  }

  stop(): void {
    if (this.busy !== '') live.cancel(CHANNEL)
  }
}
