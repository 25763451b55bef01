import { beforeEach, expect, it, vi } from 'vitest'
import { keepRecording, keptRecording, type KeptRecording } from './keptRecording'
import { START } from './onLine'

const KEPT: KeptRecording = {
  plane: 'a.toml',
  original: { hash: 'f'.repeat(64), name: 'x.csv', size: 10, kind: 'csv', words: '' },
  columns: { h: 'height ft' },
  cuts: [{ span: { from: 1, to: 4.2 }, confirmed: true, on: START }],
}

beforeEach(() => {
  const kept = new Map<string, string>()
  vi.stubGlobal('localStorage', {
    getItem: (key: string) => kept.get(key) ?? null,
    setItem: (key: string, value: string) => void kept.set(key, value),
    removeItem: (key: string) => void kept.delete(key),
  })
})

it('gives back what was kept, to its own plane', () => {
  keepRecording(KEPT)
  expect(keptRecording('a.toml')).toEqual(KEPT)
  expect(keptRecording('b.toml')).toBeNull()
  keepRecording(null)
  expect(keptRecording('a.toml')).toBeNull()
})

it('takes nothing for a recording that is none', () => {
  for (const left of ['', '{', 'null', '3', '{"plane": "a.toml"}', '{"plane": "a.toml", "original": {}, "columns": {}, "cuts": []}']) {
    localStorage.setItem('evenfall.recording', left)
    expect(keptRecording('a.toml')).toBeNull()
  }
})
