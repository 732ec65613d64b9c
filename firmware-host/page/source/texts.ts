// texts.ts: every text of the page.
export interface Texts {
  document: {lang: string; title: string; noscript: string};
}
export const english: Texts = {
  document: {lang: "en", title: "hangtrue", noscript: "This page needs JavaScript."},
};
