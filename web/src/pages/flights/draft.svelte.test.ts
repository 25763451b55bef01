import { afterEach, beforeEach, expect, it, vi } from 'vitest'
import { browser, FakeSocket } from '../../lib/testing/server'
import { fresh } from './draft'
import { started } from './kinds'

const DAY = new Date(2026, 4, 3, 9, 7)

async function page() {
  vi.resetModules()
  const { live } = await import('../../lib/live.svelte')
  const { DraftStore } = await import('./draft.svelte')
  live.start()
  FakeSocket.last.hello()
  return { live, store: (): InstanceType<typeof DraftStore> => new DraftStore('a.toml') }
}

function line() {
  const entry = started('timed', 'timed0')
  return { ...fresh('a.plan.toml', DAY), entries: [{ ...entry, values: { ...entry.values, seconds: '4', length_m: '100' } }] }
}

const sent = () => FakeSocket.last.of('do').at(-1)
const done = (): void =>
  FakeSocket.last.say({ kind: 'done', seq: sent()?.seq, file: 'x', revision: 1, words: 'Flight entered.' })

beforeEach(browser)
afterEach(() => vi.unstubAllGlobals())

it('a draft is there again after a reload, for its own plane only', async () => {
  const first = await page()
  first.store().put(line())
  const second = await page()
  expect(second.store().now?.entries[0]?.values.seconds).toBe('4')
  const { DraftStore } = await import('./draft.svelte')
  expect(new DraftStore('b.toml').now).toBeNull()
})

it('is sent as its form and goes once the record has it', async () => {
  const { store } = await page()
  const drafts = store()
  drafts.put(line())
  const saving = drafts.save()
  expect(sent()?.action).toMatchObject({ what: 'flight.save', plane: 'a.toml', plan: 'a.plan.toml', flight: null, base: 0 })
  expect(drafts.now?.sent?.token).toBe(sent()?.token)
  done()
  expect(await saving).toBe(true)
  expect(drafts.now).toBeNull()
  expect(store().now).toBeNull()
})

it('stays, with the reason, where it is refused', async () => {
  const { store } = await page()
  const drafts = store()
  drafts.put(line())
  const saving = drafts.save()
  FakeSocket.last.say({ kind: 'refused', seq: sent()?.seq, words: 'The disk is full.', faults: [] })
  expect(await saving).toBe(false)
  expect(drafts.refusal).toBe('The disk is full.')
  expect(store().now?.sent).toBeNull()
  expect(store().now?.entries).toHaveLength(1)
})

it('is not entered twice where the page was closed before the answer came', async () => {
  const { store } = await page()
  const drafts = store()
  drafts.put(line())
  void drafts.save()
  const token = String(sent()?.token)
  const again = (await page()).store()
  expect(again.now?.sent?.token).toBe(token)
  again.saved('another1', 1)
  expect(again.now).not.toBeNull()
  again.saved(token, 1)
  expect(again.now).toBeNull()
})

it('keeps what was typed after sending as a change of the flight', async () => {
  const { store } = await page()
  const drafts = store()
  drafts.put(line())
  const saving = drafts.save()
  const token = String(sent()?.token)
  drafts.set({ place: 'the meadow' })
  done()
  await saving
  expect(drafts.now).toMatchObject({ flight: token, base: 1, place: 'the meadow', sent: null })
})

it('comes back after it was thrown away', async () => {
  const { store } = await page()
  const drafts = store()
  drafts.put(line())
  drafts.take('the draft', null)
  expect(store().now).toBeNull()
  drafts.back()
  expect(store().now?.entries).toHaveLength(1)
})

it('says that this device keeps nothing', async () => {
  const { store } = await page()
  const drafts = store()
  vi.stubGlobal('localStorage', {
    getItem: () => null,
    setItem: () => {
      throw new Error('full')
    },
    removeItem: () => undefined,
  })
  drafts.put(line())
  expect(drafts.unkept).toBe(true)
  expect(drafts.now).not.toBeNull()
})
