"use strict"
// What was chosen and typed, kept in the address behind the place on the page, so that it can be sent and survives a reload.
const address = {
  names: new URLSearchParams(location.hash.split("?")[1] || ""),
  readers: [],
  keep(name, value) {
    if (value) this.names.set(name, value)
    else this.names.delete(name)
  },
  write(place) {
    const typed = this.names.toString(), now = location.hash.split("?")[0] || place
    history.replaceState(null, "", typed ? `${now}?${typed}` : now || "#")
  },
}
addEventListener("hashchange", () => {
  const typed = location.hash.split("?")[1]
  if (typed === undefined) return address.write("#verdict")
  address.names = new URLSearchParams(typed)
  address.readers.forEach(read => read())
})
