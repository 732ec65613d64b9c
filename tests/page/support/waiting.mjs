// waiting.mjs: waiting for what must come, never for a time.

/// Generous: it is reached only where something is broken.
export const kPatience = 120_000;

/// The first true value of `is`, looked at again and again.
export async function until(is, what, patience = kPatience) {
  const end = Date.now() + patience;
  for (;;) {
    const value = await is();
    if (value) return value;
    if (Date.now() > end) throw new Error(`it did not come within ${patience / 1000} s: ${what}`);
    await new Promise(resolve => setTimeout(resolve, 15));
  }
}

/// `promise`, unless it takes too long.
export function within(promise, what, patience = kPatience) {
  let timer;
  const late = new Promise((_, reject) => {
    timer = setTimeout(() => reject(new Error(`it did not come within ${patience / 1000} s: ${what}`)), patience);
  });
  return Promise.race([promise, late]).finally(() => clearTimeout(timer));
}
