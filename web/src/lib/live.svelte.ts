// The one connection to the server: asks, actions, and what is known of it. Actions are kept until they are answered,
// across a lost connection and a reload of the page.
import type { Action, AskArgs, Incoming, Topic, TopicPages } from './contract'
import { Refusal } from './contract'
import type { Do, FolderPage, Hello } from './generated/pages'

const WAITING = 'evenfall.waiting'
const RETRY_MS = [150, 300, 600, 1000, 1500]

interface Asked {
  topic: Topic
  message: string
  resolve: (body: unknown) => void
  reject: (reason: Refusal) => void
  progress?: ((words: string) => void) | undefined
}

interface Waiting {
  token: string
  action: Action
  /** When it was made, ms. */
  since: number
}

interface Promised {
  resolve: (words: string) => void
  reject: (reason: Refusal) => void
}

function kept(): Waiting[] {
  try {
    const found: unknown = JSON.parse(sessionStorage.getItem(WAITING) ?? '[]')
    return Array.isArray(found) ? (found as Waiting[]) : []
  } catch {
    return []
  }
}

class Live {
  /** connecting at first, then online or lost. */
  state = $state<'connecting' | 'online' | 'lost'>('connecting')
  hello = $state.raw<Hello | null>(null)
  folder = $state.raw<FolderPage | null>(null)
  /** Actions that are not answered yet. */
  waiting = $state.raw<Waiting[]>(kept())
  /** The last refusal of an action that nobody handled, in words. */
  trouble = $state('')

  #socket: WebSocket | null = null
  #seq = 0
  #asked = new Map<number, Asked>()
  #sent = new Map<number, string>()
  #promised = new Map<string, Promised>()
  #tries = 0
  #timer: ReturnType<typeof setTimeout> | undefined

  get readOnly(): boolean {
    return this.hello?.role === 'guest'
  }

  start(): void {
    this.#connect()
    window.addEventListener('online', () => this.#soon(0))
    document.addEventListener('visibilitychange', () => {
      if (document.visibilityState === 'visible' && this.state === 'lost') this.#soon(0)
    })
  }

  /** Ask for a page; null where a newer ask of the same channel came first. */
  ask<T extends Topic>(
    topic: T,
    args: AskArgs,
    options: { channel?: string; progress?: (words: string) => void } = {},
  ): Promise<TopicPages[T] | null> {
    const seq = ++this.#seq
    const message = JSON.stringify({ kind: 'ask', seq, topic, channel: options.channel ?? '', ...args })
    return new Promise((resolve, reject) => {
      this.#asked.set(seq, {
        topic,
        message,
        resolve: (body) => resolve(body as TopicPages[T] | null),
        reject,
        progress: options.progress,
      })
      this.#send(message)
    })
  }

  cancel(channel: string): void {
    this.#send(JSON.stringify({ kind: 'cancel', channel }))
  }

  /** Change something; resolves with what was done once it is saved. */
  act(action: Action): Promise<string> {
    const token = crypto.randomUUID()
    this.waiting = [...this.waiting, { token, action, since: Date.now() }]
    this.#keep()
    return new Promise((resolve, reject) => {
      this.#promised.set(token, { resolve, reject })
      if (this.state === 'online') this.#sendAction(token, action)
    })
  }

  /** The same, with a refusal told in the page's own line instead of to the caller. */
  async try(action: Action): Promise<boolean> {
    try {
      await this.act(action)
      this.trouble = ''
      return true
    } catch (reason) {
      this.trouble = reason instanceof Error ? reason.message : String(reason)
      return false
    }
  }

  #connect(): void {
    const socket = new WebSocket(`${location.protocol === 'https:' ? 'wss' : 'ws'}://${location.host}/live`)
    this.#socket = socket
    socket.onmessage = (event: MessageEvent<string>) => this.#receive(JSON.parse(event.data) as Incoming)
    socket.onclose = () => {
      if (this.#socket !== socket) return
      this.#socket = null
      this.state = 'lost'
      this.#sent.clear()
      this.#soon(RETRY_MS[Math.min(this.#tries++, RETRY_MS.length - 1)] ?? 1500)
    }
  }

  #soon(delay: number): void {
    clearTimeout(this.#timer)
    this.#timer = setTimeout(() => {
      if (this.#socket === null) this.#connect()
    }, delay)
  }

  #send(message: string): void {
    if (this.state === 'online') this.#socket?.send(message)
  }

  #sendAction(token: string, action: Action): void {
    const seq = ++this.#seq
    this.#sent.set(seq, token)
    const message: Do = { kind: 'do', seq, token, action }
    this.#send(JSON.stringify(message))
  }

  #keep(): void {
    try {
      sessionStorage.setItem(WAITING, JSON.stringify(this.waiting))
    } catch {
      // Private windows may refuse; the actions are still in memory.
    }
  }

  #receive(message: Incoming): void {
    switch (message.kind) {
      case 'hello':
        this.hello = message
        this.folder = message.folder
        this.state = 'online'
        this.#tries = 0
        for (const { token, action } of this.waiting) this.#sendAction(token, action)
        for (const asked of this.#asked.values()) this.#send(asked.message)
        break
      case 'folder':
        this.folder = message.folder
        break
      case 'answer':
        this.#finish(message.seq)?.resolve(message.body)
        break
      case 'dropped':
        this.#finish(message.seq)?.resolve(null)
        break
      case 'progress':
        this.#asked.get(message.seq)?.progress?.(message.words)
        break
      case 'done':
        this.#settle(message.seq)?.resolve(message.words)
        break
      case 'refused': {
        if (message.seq === null || message.seq === undefined) {
          this.trouble = message.words
          break
        }
        const reason = new Refusal(message.words, message.faults)
        const asked = this.#finish(message.seq)
        if (asked) asked.reject(reason)
        else if (this.#sent.has(message.seq)) {
          const promised = this.#settle(message.seq)
          if (promised) promised.reject(reason)
          else this.trouble = reason.message
        }
        break
      }
    }
  }

  #finish(seq: number): Asked | undefined {
    const asked = this.#asked.get(seq)
    this.#asked.delete(seq)
    return asked
  }

  #settle(seq: number): Promised | undefined {
    const token = this.#sent.get(seq)
    if (token === undefined) return undefined
    this.#sent.delete(seq)
    this.waiting = this.waiting.filter((item) => item.token !== token)
    this.#keep()
    const promised = this.#promised.get(token)
    this.#promised.delete(token)
    return promised
  }
}

export const live = new Live()
