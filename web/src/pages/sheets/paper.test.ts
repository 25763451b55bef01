import { expect, it } from 'vitest'
import { addressed } from './paper'

it('puts the paper into an address, once, and leaves names alone', () => {
  const address = addressed('/sheet.pdf?plane=a%26b.toml&plan=a+b.plan.toml&paper=a4', 'letter')
  const asked = new URLSearchParams(address.split('?')[1])
  expect(address.split('?')[0]).toBe('/sheet.pdf')
  expect(asked.getAll('paper')).toEqual(['letter'])
  expect(asked.get('plane')).toBe('a&b.toml')
  expect(asked.get('plan')).toBe('a b.plan.toml')
})

it('is another address for another revision', () => {
  expect(addressed('/x', 'a4', '1')).not.toBe(addressed('/x', 'a4', '2'))
})
