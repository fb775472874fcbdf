// What waits on this device survives a reload: records with their bytes in IndexedDB, or in memory where there is none.

const NAME = "limitwitness", STORE = "waiting";

export async function openShelf() {
  try {
    const opening = indexedDB.open(NAME, 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore(STORE, { keyPath: "id" });
    return new Shelf(await result(opening));
  } catch { return new Memory(); }
}

class Shelf {
  durable = true;
  constructor(database) { this.database = database; }
  all() { return result(this.#store("readonly").getAll()); }
  put(record) { return result(this.#store("readwrite").put(record)); }
  remove(id) { return result(this.#store("readwrite").delete(id)); }
  #store(mode) { return this.database.transaction(STORE, mode).objectStore(STORE); }
}

class Memory {
  durable = false;
  #records = new Map();
  async all() { return [...this.#records.values()]; }
  async put(record) { this.#records.set(record.id, record); }
  async remove(id) { this.#records.delete(id); }
}

const result = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});
