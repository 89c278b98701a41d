// Where answers wait until they are saved: the browser's own storage, or memory where there is none.

export interface Keep {
  /** False when what is kept here would be lost on leaving the page. */
  readonly durable: () => boolean;
  readonly read: (key: string) => string | null;
  readonly write: (key: string, value: string) => void;
  readonly remove: (key: string) => void;
}

/** Memory stands in, key by key, wherever the browser's storage refuses (private window, quota, policy). */
export function createKeep(storage: () => Storage): Keep {
  const memory = new Map<string, string>();
  let durable = true;
  const attempt = <T>(work: (storage: Storage) => T): T | null => {
    try {
      return work(storage());
    } catch {
      durable = false;
      return null;
    }
  };
  attempt((opened) => {
    opened.setItem('copunctal.probe', '1');
    opened.removeItem('copunctal.probe');
  });
  return {
    durable: () => durable,
    read: (key) => memory.get(key) ?? attempt((opened) => opened.getItem(key)),
    write: (key, value) => {
      memory.delete(key);
      const written = attempt((opened) => {
        opened.setItem(key, value);
        return true;
      });
      if (written === null) memory.set(key, value);
    },
    remove: (key) => {
      memory.delete(key);
      attempt((opened) => opened.removeItem(key));
    },
  };
}
