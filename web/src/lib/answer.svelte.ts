// An answer that follows what it was asked with: asks again when plane, plan, air or changes move, keeps the last page
// of the same plane on show meanwhile.
import { untrack } from 'svelte'
import type { AskArgs, Topic, TopicPages } from './contract'
import { Refusal } from './contract'
import { live } from './live.svelte'
import { place } from './place.svelte'

const taken = new Set<string>()

/** A channel of its own: two parts of the page that follow the same topic do not push each other out. */
function free(wanted: string): string {
  let channel = wanted
  for (let n = 2; taken.has(channel); n++) channel = `${wanted} ${n}`
  return channel
}

export class Following<T extends Topic> {
  /** The last page; null before the first. */
  page = $state.raw<TopicPages[T] | null>(null)
  /** Why there is no newer page. */
  trouble = $state.raw<Refusal | null>(null)
  /** What the server is doing for it; empty where it rests. */
  busy = $state('')
  /** Under which it asks: for `live.cancel`. */
  readonly channel: string

  #newest = 0
  #working = false
  #asked = ''
  #plane = ''
  #repeat = $state(0)

  constructor(
    readonly topic: T,
    /** What to ask with, besides plane, plan and air; null: nothing is asked now. */
    args: () => Partial<AskArgs> | null = () => ({}),
    channel: string = topic,
  ) {
    this.channel = free(channel)
    taken.add(this.channel)
    $effect(() => () => {
      taken.delete(this.channel)
      if (this.#working) live.cancel(this.channel)
    })
    $effect(() => {
      const base = place.args
      const more = args()
      const key = [place.revision, live.run, this.#repeat].join(' ')
      if (base === null || more === null || live.run === '') return
      const all = { ...base, ...more }
      untrack(() => this.#once(all, `${key} ${JSON.stringify(all)}`))
    })
  }

  /** Ask once more with the same. */
  again(): void {
    this.#repeat++
  }

  #once(args: AskArgs, key: string): void {
    if (key === this.#asked) return
    this.#asked = key
    if (args.plane !== this.#plane) this.page = null
    this.#plane = args.plane
    void this.#ask(args)
  }

  async #ask(args: AskArgs): Promise<void> {
    const mine = ++this.#newest
    const newest = (): boolean => mine === this.#newest
    this.#working = true
    this.busy = 'computing'
    const progress = (words: string): void => {
      if (newest()) this.busy = words
    }
    try {
      const page = await live.ask(this.topic, args, { channel: this.channel, progress })
      if (page === null || args.plane !== this.#plane) return
      this.page = page
      if (newest()) this.trouble = null
    } catch (reason) {
      if (newest()) this.trouble = reason instanceof Refusal ? reason : new Refusal(String(reason))
    } finally {
      if (newest()) {
        this.#working = false
        this.busy = ''
      }
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
