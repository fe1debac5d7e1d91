// Judges each reading of the first power-up as it is typed.
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
const readFields = () => {
  for (const field of fields) {
    field.value = address.names.get(field.name) || ""
    judge(field)
  }
  if (fields.some(each => each.value)) document.querySelectorAll("#bringup details").forEach(each => { each.open = true })
}
for (const field of fields) field.addEventListener("input", () => {
  judge(field)
  address.keep(field.name, field.value)
  address.write("#bringup")
})
address.readers.push(readFields)
readFields()
