// The one connection to the server: asks, actions, and what is known of it. Actions are kept until they are answered,
// across a lost connection and a reload of the page.
import type { Action, AskArgs, Incoming, Topic, TopicPages } from './contract'
import { Refusal } from './contract'
import type { Do, FolderPage, Hello } from './generated/pages'
import { Heartbeat } from './heartbeat'
import { forgetWaiting, keepWaiting, keptWaiting, newToken, type Waiting } from './waiting'

const RETRY_MS = [150, 300, 600, 1000, 1500]
/** A connection that has not said hello by then is given up, ms. */
const HELLO_MS = 4000

interface Asked {
  topic: Topic
  channel: string
  args: AskArgs
  resolve: (body: unknown) => void
  reject: (reason: Refusal) => void
  progress?: ((words: string) => void) | undefined
}

interface Promised {
  resolve: (words: string) => void
  reject: (reason: Refusal) => void
  progress?: ((words: string) => void) | undefined
}

export class Live {
  /** connecting at first, then online or lost. */
  state = $state<'connecting' | 'online' | 'lost'>('connecting')
  hello = $state.raw<Hello | null>(null)
  folder = $state.raw<FolderPage | null>(null)
  /** Actions that are not answered yet, oldest first. */
  waiting = $state.raw<Waiting[]>(keptWaiting())
  /** The last refusal of an action that nobody handled, in words. */
  trouble = $state('')
  /** What the last action did, in words. */
  said = $state('')
  /** Which start of the server is answering; empty before the first. */
  run = $derived(this.hello?.run ?? '')

  #socket: WebSocket | null = null
  // What methods look at is not what pages watch: an effect that asks or acts does not run again for it.
  #online = false
  #unanswered: Waiting[] = keptWaiting()
  #seq = 0
  #asked = new Map<number, Asked>()
  #sent = new Map<number, string>()
  #promised = new Map<string, Promised>()
  #tries = 0
  #retry: ReturnType<typeof setTimeout> | undefined
  #greeting: ReturnType<typeof setTimeout> | undefined
  #heartbeat = new Heartbeat(() => this.#drop())

  get readOnly(): boolean {
    return this.hello?.role === 'guest'
  }

  start(): void {
    this.#connect()
    window.addEventListener('online', () => this.#again())
    document.addEventListener('visibilitychange', () => {
      if (document.visibilityState !== 'visible') return
      if (this.#online) this.#heartbeat.check()
      else this.#again()
    })
    window.addEventListener('beforeunload', (event) => {
      if (this.#unanswered.length > 0) event.preventDefault()
    })
  }

  /** Ask for a page; null where a newer ask of the same channel came first or it was cancelled. */
  ask<T extends Topic>(
    topic: T,
    args: AskArgs,
    options: { channel?: string; progress?: (words: string) => void } = {},
  ): Promise<TopicPages[T] | null> {
    const channel = options.channel || topic
    return new Promise((resolve, reject) => {
      if (!this.#online) this.#dropChannel(channel)
      const seq = ++this.#seq
      const settle = (body: unknown): void => resolve(body as TopicPages[T] | null)
      const asked: Asked = { topic, channel, args, resolve: settle, reject, progress: options.progress }
      this.#asked.set(seq, asked)
      this.#sendAsk(seq, asked)
    })
  }

  /** Stop working on what was asked in a channel. */
  cancel(channel: string): void {
    if (this.#online) this.#send({ kind: 'cancel', channel })
    else this.#dropChannel(channel)
  }

  /** Change something; resolves with what was done once it is saved. */
  act(action: Action, options: { progress?: (words: string) => void } = {}): Promise<string> {
    const token = newToken()
    this.#setWaiting([...this.#unanswered, { token, action, since: Date.now() }])
    return new Promise((resolve, reject) => {
      this.#promised.set(token, { resolve, reject, progress: options.progress })
      if (this.#online) this.#sendAction(token, action)
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
    clearTimeout(this.#retry)
    const socket = new WebSocket(`${location.protocol === 'https:' ? 'wss' : 'ws'}://${location.host}/live`)
    this.#socket = socket
    this.#greeting = setTimeout(() => this.#drop(), HELLO_MS)
    socket.onmessage = (event: MessageEvent<string>) => {
      if (this.#socket === socket) this.#receive(JSON.parse(event.data) as Incoming)
    }
    socket.onclose = () => {
      if (this.#socket === socket) this.#drop()
    }
  }

  /** The connection is gone, or as good as gone: say so, keep what was asked, try again. */
  #drop(): void {
    const socket = this.#socket
    this.#socket = null
    clearTimeout(this.#greeting)
    this.#heartbeat.stop()
    if (socket !== null && socket.readyState <= WebSocket.OPEN) socket.close()
    this.#online = false
    this.state = 'lost'
    this.#sent.clear()
    const delay = RETRY_MS[Math.min(this.#tries++, RETRY_MS.length - 1)] ?? 1500
    clearTimeout(this.#retry)
    this.#retry = setTimeout(() => this.#again(), delay)
  }

  #again(): void {
    if (this.#socket === null) this.#connect()
  }

  /** Whatever is still asked in a channel is overtaken: only the newest is sent once there is a connection again. */
  #dropChannel(channel: string): void {
    for (const [seq, asked] of this.#asked) if (asked.channel === channel) this.#finish(seq)?.resolve(null)
  }

  #send(message: object): void {
    if (this.#online) this.#socket?.send(JSON.stringify(message))
  }

  #sendAsk(seq: number, { topic, channel, args }: Asked): void {
    this.#send({ kind: 'ask', seq, topic, channel, ...args })
  }

  #sendAction(token: string, action: Action): void {
    const seq = ++this.#seq
    this.#sent.set(seq, token)
    const message: Do = { kind: 'do', seq, token, action }
    this.#send(message)
  }

  /** Everything that was under way, in its order, under new numbers: actions first, so that answers hold them. */
  #resume(): void {
    for (const { token, action } of this.#unanswered) this.#sendAction(token, action)
    const pending = [...this.#asked.values()]
    this.#asked.clear()
    for (const asked of pending) {
      const seq = ++this.#seq
      this.#asked.set(seq, asked)
      this.#sendAsk(seq, asked)
    }
  }

  #setWaiting(waiting: Waiting[]): void {
    this.#unanswered = waiting
    this.waiting = waiting
    if (waiting.length > 0) keepWaiting(waiting)
    else forgetWaiting()
  }

  #receive(message: Incoming): void {
    this.#heartbeat.heard()
    switch (message.kind) {
      case 'hello':
        clearTimeout(this.#greeting)
        this.hello = message
        this.folder = message.folder
        this.#online = true
        this.state = 'online'
        this.#tries = 0
        this.#heartbeat.start()
        this.#resume()
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
        this.#under(message.seq)?.progress?.(message.words)
        break
      case 'done':
        this.said = message.words
        this.#settle(message.seq)?.resolve(message.words)
        break
      case 'refused':
        this.#refused(message.seq, new Refusal(message.words, message.faults))
        break
    }
  }

  #refused(seq: number | null | undefined, reason: Refusal): void {
    if (seq === null || seq === undefined) {
      this.trouble = reason.message
      return
    }
    const handled = this.#finish(seq) ?? this.#settle(seq)
    if (handled) handled.reject(reason)
    else this.trouble = reason.message
  }

  /** What is under way under a number: an ask or an action. */
  #under(seq: number): Asked | Promised | undefined {
    return this.#asked.get(seq) ?? this.#promised.get(this.#sent.get(seq) ?? '')
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
    this.#setWaiting(this.#unanswered.filter((item) => item.token !== token))
    const promised = this.#promised.get(token)
    this.#promised.delete(token)
    return promised
  }
}

export const live = new Live()
