import { afterEach, beforeEach, expect, it, vi } from 'vitest'
import { browser, FakeSocket, folder } from './testing/server'

beforeEach(browser)
afterEach(() => vi.unstubAllGlobals())

it('stays with the plane first shown when another comes to stand before it', async () => {
  vi.resetModules()
  const { flushSync } = await import('./testing/component.svelte')
  const { live } = await import('./live.svelte')
  const { place } = await import('./place.svelte')
  live.start()
  place.start()
  FakeSocket.last.hello()
  flushSync()
  const first = folder().planes[0]
  if (first === undefined) throw new Error('the folder of the tests has planes')
  expect(place.plane?.file).toBe(first.file)
  const before = { ...first, file: '0.toml', name: 'Before', own_plan: '0.plan.toml', plans: [] }
  FakeSocket.last.say({ kind: 'folder', folder: { ...folder(), planes: [before, ...folder().planes] } })
  flushSync()
  expect(place.plane?.file).toBe(first.file)
  expect(place.plan?.file).toBe(first.own_plan)
})
