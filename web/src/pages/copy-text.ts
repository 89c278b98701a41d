/** Puts a line on the clipboard; false where the browser gives none, as over a network without encryption. */
export async function copyText(line: string): Promise<boolean> {
  try {
    await navigator.clipboard.writeText(line);
    return true;
  } catch {
    return false;
  }
}
