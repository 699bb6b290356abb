"""The pages for people at /: the service's first client.

What is read is rendered here on the server, through the selectors of the other apps, which carry
the reader's scope. What is written is sent by the browser to the public API, so that the pages
prove that any client can. No business rule and no second validation lives here. Programs, the
catalogue's editing and webhooks have no pages.

Where a view lives
    `people` has groups, clubs and how people come in; `lists` has boards and opinions; `boats` has
    one boat; `visits` has visits, trips and the look; `purchase` has all from the seller's answers
    to the first season.

How a page is made
    A view derives from `base.PageView` and has `get`, which returns
    `self.page("pages/NAME.html", title_of=..., ...)`. `self.person` is who is signed in. Whoever is
    not goes to the sign-in and comes back; what a selector refuses (`Http404`, `NotVisible`,
    `NotAllowed`) becomes the page "not here, or not for you". Times are shown on the reader's
    clock and sizes in the reader's units: both are set while the view runs. Its path goes into
    `urls.py`, with a name; ids in it are called as in the API (`list_id`, `candidate_id`,
    `viewing_id`, `club_id`), for `tests/pages/test_every_page.py` fills them in and walks over all
    of them. The template extends `pages/base.html` and fills the blocks `title`, `main` and, for a
    script of its own, `scripts`. Nothing is inline: no `style=`, no `<script>` with text, no
    `onclick=`.

How a form is sent
    `<form method="post" data-api="PATCH /lists/{{ list.pk }}" data-etag="{{ list.etag }}"
    data-then="/lists/{id}">`: `forms.js` sends it to /api/v1 as JSON. The names of fields are those
    of the API, with dots for what lies inside (`brief.budget.amount`). A field left empty is left
    out; with `data-empty="null"` it is null, with `data-empty="text"` the empty text.
    `data-type="number"` sends a number, `data-type="percent"` a hundredth of it as text, and
    `data-type="boolean"` of a select true or false; a checkbox is a boolean, and with
    `data-type="list"` those ticked of one name are a list; with `data-of="candidate"` each of it is
    an object with that one name, and with `data-beside="until=ID"` with what the field of that id
    says, too. `data-currency="EUR"` on an amount sends
    its currency along, `data-currency-of="brief.currency"` takes that of another field. A part with
    `data-unless="name=value,other"` is hidden and left out while that field has one of the values.
    `data-then` is where to go afterwards, with fields of the answer in braces; without it the page
    is loaded again. Refusals are shown beside the field that their pointer names. `{% include
    "pages/field.html" with name="name" label="Name" hint="..." %}` writes one field and
    `pages/select.html` one with `options`; `pages/amount.html` an amount in one of several
    currencies, whose select (`data-type="currency"`) is not sent by itself. Whoever sends
    by a script of its own calls `send` of `api.js`, and nothing else speaks to the API.

    A form that is `multipart/form-data` sends each chosen file by itself, with its other fields.
    `{% include "pages/files.html" with to="/candidates/{id}/seller-photos" %}` in another form
    sends them after it, to that address with fields of its answer.

    `data-type="time"` sends a local date and time with its offset. `data-also="POST
    /trips/{id}/plans"` is sent after that, without a body and without a refusal.

The look (`visits/look.py`, `visits/looking.py`, `static/pages/look/`)
    The one page that is an application. Its page is a shell, the same for everybody; `DayView`
    gives it the day to keep: the reader's visits (`visits/own_visits.py`) for their groups, and to
    boats of other groups that they took on. `store.js` is what is kept on the phone, `session.js`
    one look while it is made, `sending.js` the outbox; `phone.js` runs on every page and sends what
    waits. The service worker (`sw.js`) keeps the shells and their scripts, with all files under
    static/pages.

What renews itself
    A part with `data-live="/path of the API"`, `data-held` (the ETag of that answer) and
    `data-fresh` is fetched again by `live.js` once the API's answer is another one. Forms stand
    outside of it, so that nothing that was typed is lost.

CSS classes, all in `static/pages/pages.css`
    `button` and `a.button` (`.main` for the one that matters, `.plain` for less), `.actions` for a
    row of them, `.field`, `.hint`, `.error`, `.notice`, `.rows` for a list of lines that lead on,
    `.quiet` for what is less important, `.caution` for what must not be overlooked, `.facts` for a
    list of names and values, `.cards` for a table that becomes cards where it is narrow (each cell
    with `data-column`), `.narrow` for a column of reading width, `.not-seen` for screen readers,
    `.on-screen` for what is not printed.
"""
