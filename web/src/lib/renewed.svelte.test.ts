import { afterEach, beforeEach, expect, it, vi } from 'vitest'
import type { FolderPage, SequenceEntry } from './generated/pages'
import { browser, FakeSocket, folder } from './testing/server'

let stop: () => void = () => undefined

beforeEach(browser)
afterEach(() => {
  stop()
  vi.unstubAllGlobals()
})

const own = (hash: string): SequenceEntry => ({ file: 'mine.seq.toml', name: 'Mine', hash })
const eight: SequenceEntry = { file: 'eight', name: 'Eight figures', hash: '8' }
const holding = (...sequences: SequenceEntry[]): FolderPage => ({ ...folder(), sequences })

it('calls when the same file has other content, not at first and not for another file', async () => {
  vi.resetModules()
  const { component, flushSync } = await import('./testing/component.svelte')
  const { live } = await import('./live.svelte')
  const { called, programmes } = await import('./programmes')
  const { whenRenewed } = await import('./renewed.svelte')
  let calls = 0
  live.start()
  FakeSocket.last.hello('first', holding(eight, own('1')))
  const { end } = component(() => {
    const watched = () => {
      const last = programmes().at(-1)
      return last === undefined ? null : { file: last.file, content: last.hash }
    }
    whenRenewed(watched, () => calls++)
  })
  stop = end
  const moved = (...sequences: SequenceEntry[]): void => {
    FakeSocket.last.say({ kind: 'folder', folder: holding(...sequences) })
    flushSync()
  }
  expect(calls).toBe(0)
  moved(eight, own('1'))
  expect(calls).toBe(0)
  moved(eight, own('2'))
  expect(calls).toBe(1)
  moved(eight)
  moved(eight, own('2'))
  expect(calls).toBe(1)
  moved(eight, own('1'))
  expect(calls).toBe(2)
  expect(programmes().map(called)).toEqual(['Eight figures', 'Mine, mine.seq.toml'])
  expect(called({ ...own('1'), name: '' })).toBe('mine.seq.toml')
})
