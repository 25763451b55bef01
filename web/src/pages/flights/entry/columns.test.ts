import { beforeEach, expect, it, vi } from 'vitest'
import type { ColumnPage } from '../../../lib/generated/pages'
import { held, NOTHING, parted, remember, remembered } from './columns'

const columns = (...names: string[]): ColumnPage[] => names.map((name) => ({ name, holds: '', unit: '', sample: '' }))

beforeEach(() => {
  const kept = new Map<string, string>()
  vi.stubGlobal('localStorage', {
    getItem: (key: string) => kept.get(key) ?? null,
    setItem: (key: string, value: string) => void kept.set(key, value),
  })
})

it('remembers what was said of the same columns, and of no others', () => {
  remember(columns('t', 'h'), { h: 'height ft' })
  remember(columns('t', 'x'), { x: 'x' })
  expect(remembered(columns('t', 'h'))).toEqual({ h: 'height ft' })
  expect(remembered(columns('h', 't'))).toEqual({})
  remember(columns('t', 'h'), {})
  expect(remembered(columns('t', 'h'))).toEqual({})
  expect(remembered(columns('t', 'x'))).toEqual({ x: 'x' })
})

it('does not trip over what another has left there', () => {
  for (const left of ['', '{', '"x"', '[["a"]]', '[["[\\"t\\"]", {"t": 3}]]', 'null']) {
    localStorage.setItem('evenfall.columns', left)
    expect(remembered(columns('t'))).toEqual({})
  }
})

it('forgets the oldest of many', () => {
  for (let k = 0; k < 30; k++) remember(columns(`c${k}`), { [`c${k}`]: 'time' })
  expect(remembered(columns('c29'))).toEqual({ c29: 'time' })
  expect(remembered(columns('c0'))).toEqual({})
})

it('parts what a column holds from its unit', () => {
  const { holds, units } = parted([NOTHING, 'time', 'height', 'time s', 'time ms', 'time epoch ms', 'height ft'])
  expect(holds).toEqual([NOTHING, 'time', 'height'])
  expect(units('time')).toEqual(['s', 'ms', 'epoch ms'])
  expect(units(NOTHING)).toEqual([])
})

it('lets two columns hold nothing, but not the same', () => {
  let changed = held({}, 'a', 'height', 'ft')
  expect(changed).toEqual({ a: 'height ft' })
  changed = held(changed, 'b', 'height', '')
  expect(changed).toEqual({ b: 'height' })
  changed = held(changed, 'c', NOTHING, 'm')
  expect(held(changed, 'd', NOTHING, '')).toEqual({ b: 'height', c: NOTHING, d: NOTHING })
})
