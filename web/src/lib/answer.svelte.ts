// An answer that follows what it was asked with: asks again when plane, plan, air or changes move, keeps the last page
// on show meanwhile.
import type { AskArgs, Topic, TopicPages } from './contract'
import { Refusal } from './contract'
import { live } from './live.svelte'
import { place } from './place.svelte'

export class Following<T extends Topic> {
  /** The last page; null before the first. */
  page = $state.raw<TopicPages[T] | null>(null)
  /** Why there is no newer page. */
  trouble = $state.raw<Refusal | null>(null)
  /** What the server is doing for it; empty where it rests. */
  busy = $state('')

  constructor(
    readonly topic: T,
    /** What to ask with, besides plane, plan and air; null: nothing is asked now. */
    args: () => Partial<AskArgs> | null = () => ({}),
    channel: string = topic,
  ) {
    $effect(() => {
      const base = place.args
      const more = args()
      void place.revision
      if (base === null || more === null || live.hello === null) return
      void this.#ask({ ...base, ...more }, channel)
    })
  }

  async #ask(args: AskArgs, channel: string): Promise<void> {
    this.busy = 'computing'
    try {
      const page = await live.ask(this.topic, args, { channel, progress: (words) => (this.busy = words) })
      if (page === null) return
      this.page = page
      this.trouble = null
      this.busy = ''
    } catch (reason) {
      this.trouble = reason instanceof Refusal ? reason : new Refusal(String(reason))
      this.busy = ''
    }
  }
}

/** Follow a topic from a component's script: `const quick = follow('quick', () => ({ changes: place.draft }))`. */
export function follow<T extends Topic>(
  topic: T,
  args?: () => Partial<AskArgs> | null,
  channel?: string,
): Following<T> {
  return new Following(topic, args, channel)
}
