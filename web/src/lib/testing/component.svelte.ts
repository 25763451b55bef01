// A component for tests of what follows in one: made, with its effects run, and ended.
import { flushSync } from 'svelte'

export { flushSync }

export function component<T>(make: () => T): { made: T; end: () => void } {
  let made: { it: T } | undefined
  const end = $effect.root(() => {
    made = { it: make() }
  })
  flushSync()
  if (made === undefined) throw new Error('nothing was made')
  return { made: made.it, end }
}
