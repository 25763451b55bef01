// Modules of the tests are made as for a browser; what a browser has besides is put there by the tests that need it.
import type { Environment } from 'vitest/runtime'

export default {
  name: 'page',
  viteEnvironment: 'client',
  setup: () => ({ teardown: () => undefined }),
} satisfies Environment
