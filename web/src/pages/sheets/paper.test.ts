import { expect, it } from 'vitest'
import { addressed, airWords } from './paper'

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

it('says which air was chosen', () => {
  expect(airWords({})).toBe('standard air at sea level')
  expect(airWords({ elevation_m: 0, temperature_c: null, pressure_hpa: null })).toBe('standard air at sea level')
  expect(airWords({ elevation_m: 1500, temperature_c: 0 }).replace(/\u00a0|\u202f/g, ' ')).toBe('a field at 1500 m, 0.0 °C')
  expect(airWords({ pressure_hpa: 880 }).replace(/\u00a0|\u202f/g, ' ')).toBe('880 hPa')
})
