// A server for tests: sockets that keep what they were sent and say what they are told, and a browser's few globals.
import { vi } from 'vitest'
import type { FolderPage } from '../generated/pages'

export class FakeSocket {
  static readonly OPEN = 1
  static all: FakeSocket[] = []
  static get last(): FakeSocket {
    const last = FakeSocket.all.at(-1)
    if (last === undefined) throw new Error('no socket was opened')
    return last
  }

  readyState = 0
  sent: Record<string, unknown>[] = []
  onmessage: ((event: { data: string }) => void) | null = null
  onclose: (() => void) | null = null

  constructor(readonly url: string) {
    FakeSocket.all.push(this)
  }

  send(text: string): void {
    this.sent.push(JSON.parse(text) as Record<string, unknown>)
  }

  close(): void {
    this.readyState = 3
  }

  say(message: object): void {
    this.onmessage?.({ data: JSON.stringify(message) })
  }

  hello(run = 'first', content: FolderPage = folder()): void {
    this.readyState = 1
    this.say({ kind: 'hello', version: '0', role: 'owner', run, folder: content })
  }

  /** The connection breaks. */
  break(): void {
    this.readyState = 3
    this.onclose?.()
  }

  of(kind: string): Record<string, unknown>[] {
    return this.sent.filter((message) => message.kind === kind)
  }
}

export function folder(revision = 1): FolderPage {
  const plane = { usable: true, undo: null, redo: null, revision }
  return {
    folder: '/planes',
    planes: [
      { ...plane, file: 'a.toml', name: 'A', own_plan: 'a.plan.toml', plans: ['a.plan.toml'] },
      { ...plane, file: 'b.toml', name: 'B', own_plan: 'b.plan.toml', plans: [] },
    ],
    plans: [
      { ...plane, file: 'a.plan.toml', label: 'a', plane: 'A', state: 'tuned', frozen_on: null, revision: 1 },
    ],
    notes: [],
    shared: null,
  }
}

class Storage {
  #held = new Map<string, string>()
  getItem = (key: string): string | null => this.#held.get(key) ?? null
  setItem = (key: string, value: string): void => void this.#held.set(key, value)
  removeItem = (key: string): void => void this.#held.delete(key)
}

/** What a page finds in a browser, empty. */
export function browser(): void {
  FakeSocket.all = []
  vi.stubGlobal('WebSocket', FakeSocket)
  vi.stubGlobal('sessionStorage', new Storage())
  vi.stubGlobal('localStorage', new Storage())
  vi.stubGlobal('window', new EventTarget())
  vi.stubGlobal('document', Object.assign(new EventTarget(), { visibilityState: 'visible' }))
  vi.stubGlobal('location', { protocol: 'http:', host: 'x', hash: '' })
  vi.stubGlobal('history', { replaceState: vi.fn() })
  vi.stubGlobal('fetch', vi.fn(() => Promise.resolve({})))
}
