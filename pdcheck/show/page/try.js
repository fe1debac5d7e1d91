// Shows another position of the build out of the table that was worked out beforehand. It adds nothing up.
const table = JSON.parse(document.getElementById("pdcheck-try").textContent)
const form = document.getElementById("try-form"), { charger, cable, set } = form.elements
const ons = [...form.querySelectorAll("input[type=checkbox]")], sliders = [...form.querySelectorAll("input[type=range]")]
const slots = new Map(table.slots.map((name, at) => [name, at]))
const steps = JSON.parse(form.dataset.steps), UNITS = { m: 1e-3, "µ": 1e-6, k: 1e3 }
const worth = text => parseFloat(text) * (UNITS[text.split(" ")[1].slice(0, -1)] || 1)
const every = (selector, act) => document.querySelectorAll(selector).forEach(act)

const pairAt = () => table.pairs.findIndex(([one, two]) => one === charger.selectedIndex && two === cable.selectedIndex)
const loadAt = at => (ons[at].checked ? Number(sliders[at].value) : -1)
const position = () => ons.map((_, at) => loadAt(at))
const put = loads => loads.forEach((share, at) => {
  ons[at].checked = share >= 0
  if (share >= 0) sliders[at].value = share
})
const stated = at => ons.map((_, each) => (each === at ? loadAt(at) : 100))

// A charger with a cable fixed to it, a pair that is not in the table, a load that is moved alone: what has to follow.
const settle = moved => {
  const notes = []
  if (pairAt() < 0) {
    const own = table.pairs[table.own]
    const fits = moved === cable
      ? table.pairs.filter(pair => pair[1] === cable.selectedIndex)
      : table.pairs.filter(pair => pair[0] === charger.selectedIndex)
    const [one, two] = fits.find(pair => pair[0] === own[0] || pair[1] === own[1]) || fits[0]
    notes.push(moved === cable ? "The charger was changed to one that goes with this cable." : "The cable was changed to one that goes with this charger.")
    charger.selectedIndex = one
    cable.selectedIndex = two
  }
  const at = ons.indexOf(moved) < 0 ? sliders.indexOf(moved) : ons.indexOf(moved)
  if (!ons.some(each => each.checked)) {
    ons[Math.max(at, 0)].checked = true
    notes.push("One branch at least stays connected.")
  }
  if (!table.each && at >= 0 && table.loads.every(loads => loads.join() !== position().join())) {
    put(stated(at))
    notes.push("The other branches are as stated again: one is changed at a time.")
  }
  return notes.join(" ")
}

const show = note => {
  const pair = pairAt(), loads = position().join()
  const [contract, given, start] = table.rows[pair][set.selectedIndex]
  const place = table.loads.findIndex(each => each.join() === loads), [figures, off, flowing] = table.states[start + place]
  // Loads of which the same is found on what is supplied hold the place of the first of them.
  const first = table.given[given][place], supplied = Array.isArray(first) ? first : table.given[given][first]
  const figure = name => table.texts[figures[slots.get(name)] || 0]
  const range = part => {
    const [typ, low, high] = ["v", "v-", "v+"].map(end => figure(`${part}.${end}`))
    if (!typ || low === high) return typ
    const [least, unit] = low.split(" "), [most, other] = high.split(" "), same = unit === other && unit === typ.split(" ")[1]
    return `${typ} (${same ? least : low} to ${same ? most : high})`
  }
  const missing = at => (ons[at].checked ? (off.includes(at) ? "off" : "") : "not connected")
  const word = name => {
    const [part, end] = [name.slice(0, name.lastIndexOf(".")), name.slice(name.lastIndexOf(".") + 1)]
    if (end === "title") return { source: charger.value, cable: cable.value, trigger: `set to ${set.value}` }[part]
    return name === "granted" ? table.contracts[contract][1] : end === "range" ? range(part) : figure(name)
  }
  every("#try text[data-slot]", each => {
    const { slot, before = "", most } = each.dataset, at = table.branches.indexOf(slot.slice(0, slot.indexOf("/load.takes")))
    const whole = slot.split("|").map(word).filter(Boolean).join(" · ")
    const text = most && whole.length > most ? `${whole.slice(0, most - 1)}…` : whole
    each.textContent = at >= 0 && before && missing(at) ? missing(at)
      : text ? before + text : before.replace(/(?:, )?(?:loses|takes|at|bus) $/, "")
  })
  every("#try rect[data-slot]", each => {
    const { slot, left, scale } = each.dataset, volts = slot.endsWith(".v")
    const ends = (volts ? [`${slot}-`, `${slot}+`] : [slot, slot]).map(figure)
    const [low, high] = ends[0] ? ends.map(worth) : [0, 0]
    each.setAttribute("x", Number(left) + (volts ? low * scale : 0))
    each.setAttribute("width", ends[0] ? Math.max((volts ? high - low : high) * scale, 2) : 0)
  })
  const found = [...table.alone[pair], ...supplied, ...flowing].map(([kind, ...gaps]) => {
    const [level, place, subject, text, advice, rule, origin] = table.kinds[kind]
    let at = 0
    return { level, place, subject, advice, rule, origin, text: text.replace(/\u0001/g, () => table.texts[gaps[at++]]) }
  }).sort((one, two) => one.level - two.level || one.place - two.place)
  const level = found.length ? found[0].level : table.levels.length - 1
  every("#try [data-part]", each => {
    const worst = Math.min(3, ...found.filter(({ subject }) => table.parts[subject] === each.dataset.part).map(each => each.level))
    const at = each.dataset.part.includes("/") ? table.branches.indexOf(each.dataset.part.split("/")[0]) : -1
    each.setAttribute("class", `${worst < 3 ? table.levels[worst] : ""} ${at >= 0 && missing(at) ? "dark" : ""}`)
  })
  const [verdict, mark, words] = table.verdicts[level], answer = document.getElementById("try-answer")
  answer.className = `verdict ${verdict}`
  answer.dataset.verdict = verdict
  const gravest = found.find(each => each.level < 3)
  const lines = {
    "try-mark": mark, "try-verdict": `${verdict}: ${words}`, "try-contract": `Contract: ${table.contracts[contract][0]}.`,
    "try-why": gravest ? `${gravest.subject}: ${gravest.text}.` : "", "try-note": note,
  }
  for (const [id, text] of Object.entries(lines)) document.getElementById(id).textContent = text
  const list = (id, shown) => document.getElementById(id).replaceChildren(...shown.map(each => {
    const item = document.createElement("li"), head = document.createElement("b"), name = table.levels[each.level]
    item.className = name
    item.dataset.rule = each.rule
    head.textContent = `${name}: ${each.subject}`
    item.append(head, ` ${each.text}.`, ...(each.level < 3 && each.advice ? [document.createElement("br"), `What to do: ${each.advice}`] : []))
    return item
  }))
  list("try-found", found.filter(each => each.level < 3))
  list("try-notes", found.filter(each => each.level === 3))
  document.getElementById("try-none").hidden = Boolean(gravest)
  sliders.forEach((slider, at) => {
    const told = JSON.parse(slider.dataset.words)[steps.indexOf(Number(slider.value))]
    const text = ons[at].checked ? `${slider.value} %: ${told}` : "not connected"
    slider.disabled = !ons[at].checked
    slider.setAttribute("aria-valuetext", text)
    document.getElementById(`${slider.id}-said`).textContent = text
  })
  every("#try svg", each => {
    if (each.querySelector("[data-slot]")) each.setAttribute("aria-label", `${each.dataset.title || (each.dataset.title = each.getAttribute("aria-label"))} ${[...each.querySelectorAll("text")].map(text => text.textContent).filter(Boolean).join(", ")}`)
  })
}

const keepChosen = () => {
  address.keep("charger", charger.value)
  address.keep("cable", cable.value)
  address.keep("set", set.value)
  table.branches.forEach((name, at) => address.keep(`load.${name}`, ons[at].checked ? sliders[at].value : "off"))
  address.write("#try")
}
const own = () => {
  [charger.selectedIndex, cable.selectedIndex] = table.pairs[table.own]
  set.selectedIndex = table.set
  put(ons.map(() => 100))
}
const readChosen = () => {
  own()
  const names = address.names
  if (names.has("charger")) charger.value = names.get("charger")
  if (names.has("cable")) cable.value = names.get("cable")
  if (names.has("set")) set.value = names.get("set")
  for (const each of [charger, cable, set]) if (each.selectedIndex < 0) each.selectedIndex = 0
  let moved = charger
  table.branches.forEach((name, at) => {
    const share = names.get(`load.${name}`)
    if (share === "off") ons[at].checked = false
    else if (steps.includes(Number(share)) && share) sliders[at].value = share
    if (loadAt(at) !== 100) moved = ons[at]
  })
  const note = settle(moved)
  show(note)
  if (names.has("charger")) document.getElementById("try-more").open = true
}
form.addEventListener("input", event => {
  show(settle(event.target))
  keepChosen()
})
form.addEventListener("reset", event => {
  event.preventDefault()
  own()
  show("")
  for (const name of ["charger", "cable", "set", ...table.branches.map(each => `load.${each}`)]) address.keep(name, "")
  address.write("#try")
})
every("#try .scriptless", each => { each.hidden = true })
document.getElementById("try-all").hidden = false
address.readers.push(readChosen)
readChosen()
