import { afterEach, beforeEach, expect, it, vi } from 'vitest'
import { browser, FakeSocket, folder } from './testing/server'

let stop: () => void = () => undefined

async function page() {
  vi.resetModules()
  const { component, flushSync } = await import('./testing/component.svelte')
  const { live } = await import('./live.svelte')
  const { place } = await import('./place.svelte')
  const { follow } = await import('./answer.svelte')
  live.start()
  FakeSocket.last.hello()
  const within = <T>(make: () => T): T => {
    const { made, end } = component(make)
    stop = end
    return made
  }
  return { live, place, follow, within, flushSync }
}

const asks = (): Record<string, unknown>[] => FakeSocket.last.of('ask')
const answer = (seq: unknown, body: unknown): void => FakeSocket.last.say({ kind: 'answer', seq, topic: 'quick', body })
const settled = (): Promise<void> => new Promise((resolve) => setTimeout(resolve, 0))

beforeEach(browser)
afterEach(() => {
  stop()
  vi.unstubAllGlobals()
})

it('asks once, and not again for a folder in which nothing moved', async () => {
  const { follow, place, within, flushSync } = await page()
  within(() => follow('quick'))
  const args = place.args
  FakeSocket.last.say({ kind: 'folder', folder: folder() })
  flushSync()
  expect(asks()).toHaveLength(1)
  expect(place.args).toBe(args)
})

it('asks again when the plane moved on, another is chosen, or the server is another', async () => {
  const { follow, place, within, flushSync } = await page()
  within(() => follow('quick'))
  FakeSocket.last.say({ kind: 'folder', folder: folder(2) })
  flushSync()
  expect(asks()).toHaveLength(2)
  place.choosePlane('b.toml')
  flushSync()
  expect(asks().at(-1)).toMatchObject({ plane: 'b.toml', plan: null })
  FakeSocket.last.hello('second', folder(2))
  flushSync()
  expect(asks().length).toBeGreaterThan(3)
})

it('shows the newest and rests when the newest is settled', async () => {
  const { follow, place, within, flushSync } = await page()
  const quick = within(() => follow('quick', () => ({ changes: place.draft ?? undefined })))
  place.draft = { angle_deg: 3 }
  flushSync()
  const [first, second] = asks()
  answer(first?.seq, 'old')
  await settled()
  expect([quick.page, quick.busy]).toEqual(['old', 'computing'])
  FakeSocket.last.say({ kind: 'progress', seq: second?.seq, words: 'lines' })
  expect(quick.busy).toBe('lines')
  answer(second?.seq, 'new')
  await settled()
  expect([quick.page, quick.busy]).toEqual(['new', ''])
})

it('rests when it was dropped, and keeps its page beside a refusal', async () => {
  const { follow, within, flushSync } = await page()
  const quick = within(() => follow('quick'))
  answer(asks()[0]?.seq, 'shown')
  await settled()
  quick.again()
  flushSync()
  FakeSocket.last.say({ kind: 'dropped', seq: asks()[1]?.seq })
  await settled()
  expect([quick.page, quick.busy]).toEqual(['shown', ''])
  quick.again()
  flushSync()
  FakeSocket.last.say({ kind: 'refused', seq: asks()[2]?.seq, words: 'not now' })
  await settled()
  expect([quick.page, quick.busy, quick.trouble?.message]).toEqual(['shown', '', 'not now'])
})

it('never shows one plane under the name of another', async () => {
  const { follow, place, within, flushSync } = await page()
  const quick = within(() => follow('quick'))
  answer(asks()[0]?.seq, 'of a')
  await settled()
  place.choosePlane('b.toml')
  flushSync()
  expect(quick.page).toBeNull()
})

it('has a channel of its own beside another of its topic, and cancels when its part of the page goes', async () => {
  const { follow, within } = await page()
  const [one, other] = within(() => [follow('quick'), follow('quick')])
  expect(one?.channel).not.toBe(other?.channel)
  stop()
  expect(FakeSocket.last.of('cancel').map((message) => message.channel)).toEqual([one?.channel, other?.channel])
})

it('asks nothing while it has nothing to ask', async () => {
  const { follow, within } = await page()
  within(() => follow('march', () => null))
  expect(asks()).toEqual([])
})
