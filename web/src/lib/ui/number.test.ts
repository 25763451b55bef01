// Words and numbers of the engine as they are printed.
import { describe, expect, it } from 'vitest'
import { degrees, spread, turns, withUnit } from '../format'
import { printed } from './number'

describe('words of the engine', () => {
  it.each([
    ['taken, +- 25 percent', 'taken, \u00b1 25 percent'],
    ['trailing edge down +, up -.', 'trailing edge down +, up \u2212.'],
    ['-225 us by the radio, -11.7 deg from square', '\u2212225 \u00b5s by the radio, \u221211.7\u00b0 from square'],
    ['Above 23.5 deg of crow', 'Above 23.5\u00b0 of crow'],
    ['bends by 2 deg/s; a two-way pass, a 3-blade propeller', 'bends by 2 deg/s; a two-way pass, a 3-blade propeller'],
  ])('%s', (words, shown) => expect(printed(words)).toBe(shown))
})

describe('numbers', () => {
  it('shows a shaft speed to ten turns a minute', () => expect(turns(5637)).toBe('5640\u202frpm'))
  it('sets the degree sign close, and a dash where nothing is known', () => {
    expect(degrees(-22.64)).toBe('\u221222.6\u00b0')
    expect([withUnit(1.6, '\u00b0'), spread(0, 0.2, '\u00b0'), withUnit(1.6, 'm')]).toEqual(['1.6\u00b0', '0.0 \u00b1 0.2\u00b0', '1.6\u202fm'])
    expect([degrees(null), turns(undefined), degrees(NaN)]).toEqual(['\u2013', '\u2013', '\u2013'])
  })
})
