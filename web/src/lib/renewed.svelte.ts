// What to do when the content of a file on show is another than before.
import { untrack } from 'svelte'

/** Calls `then` when the same file has other content; not for the first, nor when another file is chosen. */
export function whenRenewed(now: () => { file: string; content: unknown } | null, then: () => void): void {
  let seen: { file: string; content: unknown } | null = null
  $effect(() => {
    const next = now()
    const before = seen
    seen = next
    if (next !== null && before?.file === next.file && before.content !== next.content) untrack(then)
  })
}
