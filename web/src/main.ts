import './styles/tokens.css'
import './styles/base.css'
import { mount } from 'svelte'
import App from './App.svelte'
import { live } from './lib/live.svelte'
import { place } from './lib/place.svelte'

place.start()
live.start()

const target = document.getElementById('app')
if (target) mount(App, { target })
