"use strict"
// Judges each reading of the first power-up as it is typed, and keeps what was typed in the address.
const fields = [...document.querySelectorAll("input[data-reading]")]
const number = text => Number(text.replace(",", ".").replace(/\s*(?:V|A|Ω|ohm|Ohm)$/, ""))
const said = field => {
  const text = field.value.trim(), { yes, least, most, outside } = field.dataset
  if (!text) return ["", false]
  if (yes) return /^(?:y|yes|ok)$/i.test(text) ? ["as expected", false] : [outside, true]
  const value = number(text)
  if (Number.isNaN(value)) return ["a number, as in 14.52", true]
  const low = least !== undefined && value < Number(least), high = most !== undefined && value > Number(most)
  return low ? [`too low. ${outside}`, true] : high ? [`too high. ${outside}`, true] : ["as expected", false]
}
const judge = field => {
  const [words, wrong] = said(field)
  field.nextElementSibling.textContent = words
  field.setAttribute("aria-invalid", String(wrong))
}
const keep = () => {
  const typed = new URLSearchParams(fields.filter(each => each.value).map(each => [each.name, each.value])).toString()
  const place = location.hash.split("?")[0] || "#bringup"
  history.replaceState(null, "", typed ? `${place}?${typed}` : place)
}
const before = new URLSearchParams(location.hash.split("?")[1] || "")
for (const field of fields) {
  field.value = before.get(field.name) || ""
  judge(field)
  field.addEventListener("input", () => { judge(field); keep() })
}
if (fields.some(each => each.value)) document.querySelectorAll("#bringup details").forEach(each => { each.open = true })
addEventListener("hashchange", keep)
