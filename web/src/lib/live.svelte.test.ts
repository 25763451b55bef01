import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import type { Action } from './contract'
import { browser, FakeSocket, folder } from './testing/server'

const UNDO: Action = { what: 'undo', file: 'a.toml' }
const ARGS = { plane: 'a.toml', plan: null }

async function fresh() {
  vi.resetModules()
  const { Live } = await import('./live.svelte')
  return new Live()
}

beforeEach(() => {
  vi.useFakeTimers()
  browser()
})
afterEach(() => {
  vi.useRealTimers()
  vi.unstubAllGlobals()
})

describe('asks', () => {
  it('wait for the greeting and are answered', async () => {
    const live = await fresh()
    live.start()
    const asked = live.ask('quick', ARGS)
    expect(FakeSocket.last.sent).toEqual([])
    FakeSocket.last.hello()
    const [ask] = FakeSocket.last.of('ask')
    expect(ask).toMatchObject({ topic: 'quick', channel: 'quick', plane: 'a.toml' })
    FakeSocket.last.say({ kind: 'answer', seq: ask?.seq, topic: 'quick', body: { lines: [] } })
    expect(await asked).toEqual({ lines: [] })
  })

  it('are sent again under a higher number after a break', async () => {
    const live = await fresh()
    live.start()
    FakeSocket.last.hello()
    const asked = live.ask('map', ARGS)
    const before = FakeSocket.last.of('ask')[0]
    FakeSocket.last.break()
    expect(live.state).toBe('lost')
    vi.advanceTimersByTime(200)
    FakeSocket.last.hello('second')
    const after = FakeSocket.last.of('ask')
    expect(after).toHaveLength(1)
    expect(after[0]?.seq).toBeGreaterThan(before?.seq as number)
    FakeSocket.last.say({ kind: 'answer', seq: after[0]?.seq, topic: 'map', body: 1 })
    expect(await asked).toBe(1)
  })

  it('of one channel leave only the newest while nobody answers', async () => {
    const live = await fresh()
    live.start()
    FakeSocket.last.hello()
    FakeSocket.last.break()
    const older = live.ask('quick', { ...ARGS, plane: 'old.toml' })
    const newer = live.ask('quick', ARGS)
    const other = live.ask('map', ARGS)
    expect(await older).toBeNull()
    vi.advanceTimersByTime(200)
    FakeSocket.last.hello()
    expect(FakeSocket.last.of('ask').map((ask) => ask.topic)).toEqual(['quick', 'map'])
    for (const ask of FakeSocket.last.of('ask')) FakeSocket.last.say({ kind: 'dropped', seq: ask.seq })
    expect(await newer).toBeNull()
    expect(await other).toBeNull()
  })

  it('are refused in words with their faults', async () => {
    const live = await fresh()
    live.start()
    FakeSocket.last.hello()
    const asked = live.ask('tune', ARGS)
    const fault = { where: 'mass', line: 3, words: 'missing' }
    const seq = FakeSocket.last.of('ask')[0]?.seq
    FakeSocket.last.say({ kind: 'refused', seq, words: 'not so', faults: [fault] })
    await expect(asked).rejects.toMatchObject({ message: 'not so', faults: [fault] })
    expect(live.trouble).toBe('')
  })
})

describe('actions', () => {
  it('made while nobody answers are kept and sent once, with their token', async () => {
    const live = await fresh()
    live.start()
    FakeSocket.last.hello()
    FakeSocket.last.break()
    const done = live.act(UNDO)
    expect(live.waiting).toHaveLength(1)
    expect(sessionStorage.getItem('evenfall.waiting')).toContain('undo')
    vi.advanceTimersByTime(200)
    FakeSocket.last.hello()
    const sent = FakeSocket.last.of('do')
    expect(sent).toHaveLength(1)
    expect(sent[0]?.token).toBe(live.waiting[0]?.token)
    FakeSocket.last.say({ kind: 'done', seq: sent[0]?.seq, file: 'a.toml', revision: 2, words: 'Mass taken back.' })
    expect(await done).toBe('Mass taken back.')
    expect(live.waiting).toEqual([])
    expect(live.said).toBe('Mass taken back.')
    expect(sessionStorage.getItem('evenfall.waiting')).toBeNull()
  })

  it('not answered before a break go out again under the same token, before the asks', async () => {
    const live = await fresh()
    live.start()
    FakeSocket.last.hello()
    const asked = live.ask('plane', ARGS)
    const done = live.act(UNDO)
    const token = FakeSocket.last.of('do')[0]?.token
    FakeSocket.last.break()
    vi.advanceTimersByTime(200)
    FakeSocket.last.hello()
    expect(FakeSocket.last.sent.map((message) => message.kind)).toEqual(['do', 'ask'])
    const [again, ask] = FakeSocket.last.sent
    expect(again?.token).toBe(token)
    FakeSocket.last.say({ kind: 'done', seq: again?.seq, file: 'a.toml', revision: 2, words: 'ok' })
    FakeSocket.last.say({ kind: 'dropped', seq: ask?.seq })
    expect(await done).toBe('ok')
    expect(await asked).toBeNull()
  })

  it('survive a reload; refused then, the page says why', async () => {
    const before = await fresh()
    before.start()
    void before.act(UNDO)
    const after = await fresh()
    after.start()
    FakeSocket.last.hello()
    const sent = FakeSocket.last.of('do')
    expect(sent).toHaveLength(1)
    FakeSocket.last.say({ kind: 'refused', seq: sent[0]?.seq, words: 'There is nothing to take back.' })
    expect(after.trouble).toBe('There is nothing to take back.')
    expect(after.waiting).toEqual([])
  })

  it('kept in a shape nobody knows are left alone', async () => {
    sessionStorage.setItem('evenfall.waiting', '[1, {"token": 2}, null]')
    expect((await fresh()).waiting).toEqual([])
    sessionStorage.setItem('evenfall.waiting', '{')
    expect((await fresh()).waiting).toEqual([])
  })

  it('refused through try stand in the line of the page, and go with the next that works', async () => {
    const live = await fresh()
    live.start()
    FakeSocket.last.hello()
    const first = live.try(UNDO)
    FakeSocket.last.say({ kind: 'refused', seq: FakeSocket.last.of('do')[0]?.seq, words: 'no' })
    expect(await first).toBe(false)
    expect(live.trouble).toBe('no')
    const second = live.try(UNDO)
    FakeSocket.last.say({ kind: 'done', seq: FakeSocket.last.of('do')[1]?.seq, file: 'a', revision: 1, words: 'ok' })
    expect(await second).toBe(true)
    expect(live.trouble).toBe('')
  })
})

describe('the connection', () => {
  it('that is taken but never greeted is given up and tried again', async () => {
    const live = await fresh()
    live.start()
    vi.advanceTimersByTime(4000)
    expect(live.state).toBe('lost')
    vi.advanceTimersByTime(200)
    expect(FakeSocket.all).toHaveLength(2)
    FakeSocket.last.hello()
    expect(live.state).toBe('online')
  })

  it('to a server that hangs is noticed within ten seconds', async () => {
    const live = await fresh()
    live.start()
    FakeSocket.last.hello()
    await vi.advanceTimersByTimeAsync(6000)
    expect(fetch).toHaveBeenCalledTimes(1)
    expect(live.state).toBe('online')
    vi.mocked(fetch).mockRejectedValue(new Error('time is up'))
    await vi.advanceTimersByTimeAsync(6000)
    expect(live.state).toBe('lost')
  })

  it('is not asked for life while it talks', async () => {
    const live = await fresh()
    live.start()
    FakeSocket.last.hello()
    for (let second = 0; second < 20; second++) {
      await vi.advanceTimersByTimeAsync(1000)
      FakeSocket.last.say({ kind: 'folder', folder: folder() })
    }
    expect(fetch).not.toHaveBeenCalled()
  })

  it('that was given up has no say any more', async () => {
    const live = await fresh()
    live.start()
    const old = FakeSocket.last
    old.hello()
    old.break()
    vi.advanceTimersByTime(200)
    FakeSocket.last.hello()
    old.say({ kind: 'folder', folder: { ...folder(), folder: '/elsewhere' } })
    old.break()
    expect(live.folder?.folder).toBe('/planes')
    expect(live.state).toBe('online')
  })
})
