// What the watch asks, with a button for each answer it offers and a field for one's own words. An answer that moves the
// heat is held back a while, as whatever moves it is. The checklist is folded away: the temperature stands below it.

import { hold } from "./act.js";
import { at, show, visible, write } from "./view.js";

export function showQuestions(questions, mayAct) {
  const checks = questions.filter((question) => question.is_check === true);
  showList(at("questions"), questions.filter((question) => question.is_check !== true), mayAct);
  showList(at("checklist"), checks, mayAct);
  show(at("checks"), checks.length > 0);
  write(at("checks-left"), String(checks.length));
}

function showList(list, questions, mayAct) {
  show(list, questions.length > 0);
  const cards = new Map([...list.children].map((card) => [card.dataset.number, card]));
  for (const question of questions) {
    const number = String(question.number);
    const card = cards.get(number) ?? newCard(question);
    cards.delete(number);
    write(card.querySelector(".asked"), question.text);
    show(card.querySelector(".replies"), mayAct);
    if (card.parentElement !== list) list.append(card);
  }
  for (const card of cards.values()) card.remove();
}

function newCard(question) {
  const card = at("question-card").content.firstElementChild.cloneNode(true);
  card.dataset.number = question.number;
  card.classList.toggle("check", question.is_check === true);
  const replies = card.querySelector(".offered");
  for (const answer of question.answers) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "act";
    button.dataset.answer = answer;
    button.dataset.moves = String(question.only_these && answer !== question.answers.at(-1));
    button.textContent = visible(answer.charAt(0).toUpperCase() + answer.slice(1));
    replies.append(button);
  }
  show(card.querySelector("form"), !question.only_these && !question.is_check);
  return card;
}

// `send` gives an order to the watch and tells whether it was taken.
export function listenForAnswers(send) {
  listenAt(at("questions"), send);
  listenAt(at("checklist"), send);
}

function listenAt(list, send) {
  const tell = (card, text) => send("answer", { question: Number(card.dataset.number), text }, `Answered: ${text}.`);
  list.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-answer]");
    if (!button) return;
    const card = button.closest("li");
    if (button.dataset.moves === "true") hold(button.textContent, () => tell(card, button.dataset.answer));
    else tell(card, button.dataset.answer);
  });
  list.addEventListener("submit", (event) => {
    event.preventDefault();
    const field = event.target.querySelector("input");
    if (field.value.trim()) tell(event.target.closest("li"), field.value.trim());
  });
}
