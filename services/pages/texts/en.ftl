# The texts of the pages, in English. Short sentences with a subject; the next act first, then the reason.

stillroom-name = Stillroom
skip-to-sheet = Skip to the sheet
places-word = Places
writing = Writing…
you-wrote = You wrote
notice-anybody = Stillroom neither diagnoses nor prescribes.
docs-title = Documentation

place-today = Today
place-formulas = Formulas
place-batches = Batches
place-calculators = Calculators
place-queue = Queue
place-materials = Materials
place-people = People
place-libraries = Libraries
place-policy = Policy
place-api-clients = API clients
place-events = Events

month-january = January
month-february = February
month-march = March
month-april = April
month-may = May
month-june = June
month-july = July
month-august = August
month-september = September
month-october = October
month-november = November
month-december = December
date = { $a } { $b } { $c }
date-short = { $a } { $b }
when-today = { $a }
when-then = { $a }, { $b }
today-word = today
wait-seconds = { $a ->
    [one] one second
   *[other] { $a } seconds
}
wait-minutes = { $a ->
    [one] one minute
   *[other] { $a } minutes
}

## Getting in

sign-in-title = Sign in
sign-in-name = Sign-in name
password-word = Password
sign-in-act = Sign in
use-code = Use a one-time code
sign-in-wrong = Name or password is not right.
too-many-tries = Too many tries. Again in { $a }.
sign-in-first = Sign in to see this page.
sign-in-ended = You were signed out. Sign in to go on here.
sign-in-kept = You were signed out. What you wrote is kept and opens again when you sign in.
code-title = Set your password
code-word = One-time code
code-act = Set password
code-unusable = This code was used or is too old. Ask an administrator for a new one.
password-new = New password
password-current = Old password
password-rule = 12 characters or more. Long is better than odd.
password-change = Change password
forgotten-title = Forgotten password
forgotten-ask = Ask an administrator of your clinic for a one-time code. Whoever invited you is one.
forgotten-why = The code sets a new password. The old one works until then, and nobody else can see either.
kept-title = You are signed in again
kept-said = What you wrote before you were signed out was not sent yet.
kept-send = Send it now
kept-leave = Leave it

## Your account

account-title = Your account
account-sessions = Where you are signed in
account-password-done = The password was changed. Every other session ended.
account-session-done = The session ended.
session-this = This one.
session-until = Ends by itself at { $a } when it is not used.
session-since = of { $a }
session-end = End
session-only = You are signed in nowhere else.
sign-out = Sign out

## Problems

problems-title = All problems
problem-what-to-do = What to do
problem-for-tools = For tools
problem-help = Asking for help
problem-quote = Quote the request
only-instructors = Instructors do this. Ask one of the clinic’s.
problem-back = Go back and mend it
problem-home = Go to your first page
problem-wait = Again in { $a }.
trouble-cross-site = The form was sent from a page of another site. Open the page here and send it from there.

problem-malformed-request-title = The form cannot be read
problem-malformed-request-happened = What arrived was no form of these pages. Nothing was done.
problem-malformed-request-cure = Open the page again and send the form from there.
problem-idempotency-key-missing-title = The key is missing
problem-idempotency-key-missing-happened = A request that creates something came without its key. Nothing was done.
problem-idempotency-key-missing-cure = Open the page again and send the form from there.
problem-not-known-title = Not signed in
problem-not-known-happened = Nobody is signed in here, or the session has ended. Nothing was done.
problem-not-known-cure = Sign in and go on where you stopped.
problem-forbidden-title = Not yours to do
problem-forbidden-happened = Somebody else does this. Nothing was done.
problem-forbidden-cure = Ask the person who does it, or an administrator.
problem-gate-closed-title = Cautions not read yet
problem-gate-closed-happened = Amounts and method are shown to people who have read the cautions. This holds for every role.
problem-gate-closed-cure = Open the formula and read its cautions; the recipe opens then.
problem-not-found-title = There is no such page
problem-not-found-happened = Nothing stands at this address, or it is not open to you. Nothing was done.
problem-not-found-cure = Go to your first page and look for it from there.
problem-method-not-allowed-title = Not done this way
problem-method-not-allowed-happened = This address takes other requests. Nothing was done.
problem-method-not-allowed-cure = Open the page and use its buttons.
problem-body-too-slow-title = It took too long to arrive
problem-body-too-slow-happened = The connection was too slow and what you sent did not arrive in full. Nothing was done.
problem-body-too-slow-cure = Send it again where the connection is better.
problem-headers-too-slow-title = The request took too long to arrive
problem-headers-too-slow-happened = The beginning of the request did not arrive in time. Nothing was done.
problem-headers-too-slow-cure = Try again where the connection is better.
problem-wrong-state-title = Already done, or not yet
problem-wrong-state-happened = It is in another state than this needs. Nothing was done.
problem-wrong-state-cure = Open it again and see how it stands now.
problem-conflict-title = It exists already
problem-conflict-happened = It would collide with something that is there. Nothing was done.
problem-conflict-cure = Choose another name, or use what is there.
problem-request-in-flight-title = The first one is still being written
problem-request-in-flight-happened = You sent this before, and it is being written now. It will not be written twice.
problem-request-in-flight-cure = Wait a moment and open the page again.
problem-stale-title = It changed while you wrote
problem-stale-happened = Somebody saved it after you opened it. Nothing was overwritten, and nothing you wrote is lost.
problem-stale-cure = Open it again, read what changed, and write yours into it.
problem-too-large-title = Too large
problem-too-large-happened = What you sent is larger than a form may be. Nothing was done.
problem-too-large-cure = Send less at once.
problem-media-type-title = Not in this form
problem-media-type-happened = What was sent is of a kind that is not read here. Nothing was done.
problem-media-type-cure = Open the page and send its form.
problem-invalid-request-title = Fields were not accepted
problem-invalid-request-happened = One or more fields need mending. Nothing was done.
problem-invalid-request-cure = Go back, mend them, and send the form again.
problem-idempotency-key-reused-title = This form was sent before
problem-idempotency-key-reused-happened = The form did its work already, and other words stood in it then. What you send now was not written.
problem-idempotency-key-reused-cure = Open the page again: it shows what was written, and its form is new.
problem-precondition-required-title = Which version is meant?
problem-precondition-required-happened = A change must say which version it was made from. Nothing was done.
problem-precondition-required-cure = Open the page again and send the form from there.
problem-too-many-requests-title = Too many tries
problem-too-many-requests-happened = There were more requests than one person needs. This one was not done.
problem-too-many-requests-cure = Wait a little, then do it again.
problem-headers-too-large-title = The request is too large
problem-headers-too-large-happened = The beginning of the request was larger than is read. Nothing was done.
problem-headers-too-large-cure = Remove this site’s cookies, sign in, and try again.
problem-internal-title = Something went wrong here
problem-internal-happened = The fault is ours. Nothing was half written.
problem-internal-cure = Try again. If it stays, tell an administrator and quote the request.
problem-contended-title = Too many at once
problem-contended-happened = Others changed the same thing at the same moment. Yours was not written.
problem-contended-cure = Send it again.
problem-took-too-long-title = The calculation took too long
problem-took-too-long-happened = It was stopped so that others need not wait. Nothing was saved.
problem-took-too-long-cure = Try again, or split the formula into smaller ones.
problem-unavailable-title = Not available at the moment
problem-unavailable-happened = The records cannot be reached just now. Nothing was done, and nothing is lost.
problem-unavailable-cure = Wait a moment and try again.

## Today and finding

today-title = Today
today-bench = On the bench
today-bench-empty = Nothing is on the bench.
today-back = Came back
today-back-empty = Nothing came back.
today-due = Due
today-due-empty = Nothing is due.
today-open = Recipes open to you
today-open-empty = Read the cautions of a formula, then its recipe stays open here.
entries-written = { $a } written
go-on = Go on
with-batch = with { $a } { $b }
all-batches = All batches
returned-by = { $a } sent it back to be mended.
answer-act = Answer
until-word = until
find-formula = Find a formula
find-act = Find
formulas-title = Formulas
title-or-material = Title or material
kind-word = Kind
any-kind = any kind
any-regime = anything
for-whom = For whom
for-anyone = anyone
for-pregnant = someone pregnant
for-breast-feeding = someone breast-feeding
for-age = a child of a given age
for-allergy = someone allergic
for-condition = someone with a condition
age-label = Age, like 4 or 18m
which-label = Which one, like asteraceae
found-count = { $a } found
found-title = What was found
all-formulas = All formulas
found-nothing = No formula has “{ $a }”. Try a part of the word.
in-no-library = You are in no library yet. Ask an instructor.
found-withheld = Withheld: an instructor decides what follows.
found-open = Recipe open to you.
found-draft = Nothing of it may be made yet.
found-notes = Notes to read first.
things-to-read-first = { $a ->
    [one] One thing to read first.
   *[other] { $a } things to read first.
}
things-to-read = { $a ->
    [one] one thing to read
   *[other] { $a } things to read
}
show-more = Show 50 more
suits-nothing = nothing known against it
suits-notes = with care
suits-ask = ask first
suits-not = not suitable

## A formula and its cautions

for-use = For use { $a }. Made as { $b }.
formula-withheld = Withheld since { $a }: a new caution stops it, and an instructor decides what follows.
formula-withdrawn = Withdrawn. It is not made any more.
formula-superseded = A newer revision took its place.
formula-waits = You have read the cautions. An instructor countersigns before the recipe opens.
read-then-opens = Read these, then the recipe opens
read-then-decide = Read these, then decide
cautions-title = Cautions
open-recipe = Open the recipe
suits-title = Whom does it suit?
ask-about = Ask about
ask-act = Ask
made-of = Made of
written-word = Written by
written-by = { $a }; approved by { $b } on { $c }, revision { $d }
written-alone = { $a }, { $b }
written-undecided = { $a }, revision { $b }
reading-must-not = Who must not use it
reading-ask-first = Who asks first
reading-use = How to use it
reading-changed = The cautions changed while you read. Read what is new below.
reading-unread = { $a } of { $b } are not read yet. The first of them stands here.
read-these = { $a ->
    [1] I have read this
    [2] I have read these two
    [3] I have read these three
    [4] I have read these four
    [5] I have read these five
   *[other] I have read these { $a }
}
why-here = { $a ->
    [one] Why is it here?
   *[other] Why are they here?
}
why-path = By { $a }.
why-source = { $a }
why-changed = The clinic changed it: { $a }
read-before-as = You read it as: { $a }
read-before-level = You read it as a { $a }: { $b }
read-before = { $a ->
    [one] The one you read before
   *[other] The { $a } you read before
}
level-stop = Stop: it may not be made
level-contraindication = Contraindication
level-contraindication-of = Contraindication, { $a } of { $b }
audience-everyone = Everyone
audience-pregnant = Pregnant
audience-breast-feeding = Breast-feeding
audience-under-years = { $a ->
    [one] Under one year
   *[other] Under { $a } years
}
audience-under-months = Under { $a } months
audience-allergy = Allergic to { $a }
audience-condition = With { $a }
source-verified = Source: { $a }. Read in the original.
source-copy = Source: { $a }. Read in a copy.
source-memory = From memory: no source has been read yet.
source-practice = Common practice, no source.
source-definition = { $a }, by definition.
figure-unknown = unknown
made-for-somebody = Is it made for somebody in particular?
made-for-whom = For whom
countersign-said = For some people an instructor countersigns before the recipe opens.
gate-never = The recipe opens when you have read its cautions.
gate-revision = This is another revision than the one you read. Its recipe opens when you have read its cautions.
gate-expired = You read these on { $a }. That is too long ago: the recipe opens when you have read them again.
gate-changed = You read the cautions on { $a }. Since then { $b ->
    [0] none is new
    [one] one is new
   *[other] { $b } are new
} and { $c ->
    [0] none is stronger
    [one] one is stronger or worded otherwise
   *[other] { $c } are stronger or worded otherwise
}. The recipe opens when you have read them.

## Recipe

recipe-word = recipe
recipe-of = For use { $a }. Revision { $b }.
make-word = Make
for-word = for
way-label = What is asked
way-jars = jars
way-mass = a mass
way-volume = a volume
way-line = what a line allows
way-own = as written
jars-label = How many jars
jars-of = of
fill-label = In each jar, like 30 g
mass-label = How much, like 500 g
volume-label = How much, like 250 mL
line-word = line
line-label = Which line, like 1.1
line-amount-label = How much there is of it, like 2 cups
jars-cure = Write how many jars, as a whole number like 12.
recipe-losses = { $a } stays in the pot; the balance reads { $b }
recipe-nothing = nothing
recipe-any = any weight
pot-label = Stays in the pot, like 4 %
pot-says = stays in the pot;
dry-label = Evaporates, like 1 %
dry-says = evaporates;
reads-says = the balance reads
reads-label = The balance reads, like 0.1 g
density-says = the density was measured as
density-label = Density of what is made, like 0.95 g/mL
application-says = one application is
application-label = One application, like 2 g
work-it-out = Work it out
lines-caption = What to weigh, by phase
lines-columns = Material, household measure, function
weigh-word = Weigh
why-figure = Why { $a }?
aliquot-how = How to weigh so little
in-all = in all
start-batch = Start a batch
print-word = Print
method-title = Method
hold-word = Hold
hold-says = until a second person has looked.
comes-out = What comes out
use-by = Use by
if-made-today = { $a }, if made today.
date-cold = { $a } in a refrigerator
date-limited = By { $a }.
no-date = no rule dates it; an instructor does
on-the-jar = On the jar
not-known = Not known

## The bench

form-without-key = Open the page again and send the form from there.
list-title = Weigh several at once
list-empty-left = Empty lines are left for later.
list-nothing = Every line is weighed.
asked-title = Asked
weighed-title = Weighed
asked-word = asked
expected-word = Expected
weighed-label = Weighed, in grams
heat-label = Temperature, in °C
ph-label = pH
range-says = { $a } to { $b } g is within tolerance ({ $c } %).
heat-says = Write the temperature you read.
step-says = Write a temperature if you took one.
ph-says = Write the pH, if you measured it.
yield-says = Weigh everything that came out.
act-ph = Measure the pH
act-yield = Weigh what came out
aloud-weigh = Weigh { $a } grams of { $b }.
lot-is = lot { $a }
lot-until = Lot { $a }, good until { $b }
lot-none = no lot
lot-word = Lot
lot-shown = Lot { $a }, good until { $b }
lot-asked = Which lot?
good-until = Good until
measured-with = Measured with
what-you-see = What you see
why-corrected = Why?
was-written = It was
reason-settled = I read the balance before it had settled.
reason-wrong-line = I wrote it on the wrong line.
reason-lot = The lot had not been written down.
reason-mistyped = I mistyped it.
reason-other = or another reason
write-correction = Write the correction
leave-it = Leave it
write-down = Write down
write-all-down = Write all down
done-at = Done at
done-word = Done
start-minutes = { $a ->
    [one] Start one minute
   *[other] Start { $a } minutes
}
read-aloud = Read aloud
use-balance = Use a balance
left-hand = Left hand
right-hand = Right hand
less-by = { $a } { $b } less
more-by = { $a } { $b } more
far = { $a } of { $b }
correct-act = Correct
whole-batch = The whole batch
now-word = Now:
read-record = Read the record
written-now = Written: { $a }.
allowed-says = { $a } % is allowed: { $b } to { $c } g.
within-says = Within tolerance.
bench-again = This form did its work already. What stands there can be corrected.
kept-here = Kept on this phone
kept-nothing = Nothing is kept on this phone.
no-network = No network.
no-recipe-kept = The recipe is not kept on this phone, so no asked weights are shown. What you wrote is safe.
try-again = Try again
step-word = step
not-sent = Not sent yet.
entries-kept = {"{0}"} entries are kept on this phone. They are sent in order when it returns.
entry-kept = One entry is kept on this phone. It is sent when it returns.
sending = Sending {"{0}"} of {"{1}"}.
all-sent = Everything is sent.
throw-away = Throw it away
you-typed = Not accepted: {"{0}"}
all-done-here = Everything of this batch is written. It is sent when the network returns.
balance-on = The balance is read
balance-none = No balance is here; type what it shows.
live-within = Within tolerance.
live-as-asked = As asked.
live-over = {"{0}"} g over ({"{1}"} %).
live-under = {"{0}"} g under ({"{1}"} %).
live-take-out = Take out {"{0}"} g at least, or write it down as it is.
live-add = Add {"{0}"} g at least, or write it down as it is.
live-number = Write a number with a point, like 312.4.
live-too-hot = {"{0}"} °C above the most. Let it cool, or write it down as it is.
live-too-cold = {"{0}"} °C below the least. Warm it, or write it down as it is.
live-heat-within = {"{0}"} °C: within what the step asks.
timer-left = {"{0}"} left
timer-up = Time is up

## Records

batches-title = Batches
batches-of = Batches
batches-whose = Whose batches
whose-all = everybody’s
whose-mine = mine
batches-that-are = that are
batches-state = In which state
any-state = in any state
show-act = Show
batches-none = There is no such batch. A recipe starts one.
state-planned = planned
state-making = on the bench
state-submitted = submitted
state-returned = came back
state-accepted = accepted
state-rejected = rejected
state-abandoned = given up
who-when = { $a }, { $b }
verdict-return = returned
verdict-accept = accepted
verdict-reject = rejected
cost-word = Cost
the-jars = The jars
disposition-practice-only = For practice only, never given out
disposition-quarantine = In quarantine: not to be given out
disposition-released = Released
disposition-recalled = Recalled
disposition-discarded = Discarded
record-planned = Nothing is written yet.
record-making = It is on the bench. You submit it when everything is written.
record-making-by = { $a } has it on the bench.
record-submitted = Submitted: { $a }. An instructor of the library reviews it.
record-returned = { $a } sent it back to be mended.
record-accepted = Accepted by { $a }.
record-rejected = Rejected by { $a }.
record-abandoned = Given up. What was written stays.
record-of = { $a }, for { $b }
review-act = Review it
to-mend = To mend
to-look-at = To look at
all-as-asked = Everything as asked.
not-written = Not written yet
your-answer = Your answer
submit-again = Submit again
submit-act = Submit for review
to-bench = To the bench
as-asked-title = As asked
what-was-made = What was made
submissions-title = Submissions
nobody-reviewed = Nobody has reviewed it yet.
abandon-title = Give this batch up
abandon-sure = I give it up. What was written stays, and nothing can be added.
abandon-act = Give it up
written-at = Written { $a }.
corrected-to = Corrected:
instead-of = instead of
review-said = { $a } made it on { $b } for { $c }. Submission { $d }, { $e }.
review-own = You made this. Somebody else reviews it.
review-clean-words = Everything as asked.
waiting-count = { $a ->
    [one] one waits
   *[other] { $a } wait
}
changed-since = Changed since the last submission
comment-word = Comment
comment-on = Comment on { $a }
as-asked-folded = { $a ->
    [one] one line as asked
   *[other] { $a } lines as asked
}
as-made = As made
your-decision = Your decision
to-queue = To the queue
what-you-tell = What you tell { $a }
accept-act = Accept
accept-with = { $a ->
    [one] Accept with one finding
   *[other] Accept with { $a } findings
}
return-act = Return to mend
reject-act = Reject
next-opens = The next record opens at once.
keys-on-entry = On an entry:
keys-move = move
keys-comment = comment
keys-fold = fold
keys-decide = to the decision
keys-turn-off = Turn keys off
keys-turn-on = Turn keys on

## The queue

queue-title = Queue
queue-review = To review
queue-decide = To decide
queue-countersign = To countersign
queue-amendments = Amendments to confirm
queue-drafts = Your drafts
nothing-waits = Nothing waits.
nobody-waits = Nobody waits.
no-draft = You have no draft.
write-formula = Write a formula
revision-by = revision { $a }, by { $b }
revision-number = revision { $a }
countersign-title = Countersign
countersign-said = { $a } has read the cautions and asks for the recipe. It is meant for: { $b }.
countersign-act = Countersign

## The workshop

workshop-title = A new formula
draft-word = draft
first-phase = everything
title-word = Title
library-word = Library
for-whom-and-how = For whom and how it is used, and what stands on the jar
route-word = How it is used
regime-word = Made as
yield-word = Yield, like about 1000 g
site-word = Part of the body: body, face, lips or hair
youngest-word = The youngest it is meant for, like 3 years
daily-word = The most that is used in a day, like 5 g
ph-word = Target pH, like 5.0
directions-word = Directions
storage-word = How it is kept
container-word = Container
after-word = Once opened
own-cautions = Cautions of your own, one a line
share-word = share
lines-title = Lines
phase-label = Phase { $a }
line-number = Line { $a }
step-number = Step { $a }
not-read = not read
another-phase = Another phase, by its name
another-phase-lines = Lines of the other phase
line-example = 50 g emulsifying wax, emulsifier
keep-draft = Keep the draft
propose-act = Propose
comes-out-as = Comes out as
nothing-comes = The figures follow when every line is read.
maker-reads = Whoever makes it will read
table-behind = The table behind it
material-word = Material
room-left = Room left under the limits
no-rule-recorded = No rule is recorded for this.
why-word = Why?
others-count = { $a } others
picture-says = Composition by mass: { $a }. The table has the figures.
emulsion-word = Emulsion
preserved-word = Preserved
label-names = Label names
limit-within = { $a }: { $e } % left. { $b } in it, { $c }. { $d }.
limit-unknown = { $a }: not judged, something in it is not known. { $c }. { $d }.
limit-not-covered = { $a }: the rule does not say. { $c }. { $d }.
limit-exceeded = { $a }: none left. { $b } in it, { $c }. { $d }.
limit-prohibited = { $a }: none is allowed, and it is in it. { $d }.
stale-draft = Somebody saved this draft after you opened it. Yours stands in the fields; keeping it takes the place of theirs.
stale-theirs = Theirs
decide-said = Revision { $a }, proposed by { $b }.
what-changed = What changed
was-word = was
is-word = is
none-word = none
same-lines = { $a ->
    [one] One line or step is the same.
   *[other] { $a } lines and steps are the same.
}
what-you-tell-author = What you tell the author
stop-blocks = A stop blocks approval
own-formula = You wrote this. Another instructor decides.
approve-act = Approve
return-proposal = Return
nested-closed = Something nested in it is closed to you, so its figures are not shown.

## The clinic's own affairs

people-title = People
role-student = student
role-instructor = instructor
role-administrator = administrator
account-state-invited = invited
account-state-active = active
account-state-disabled = disabled
nobody-invited = Nobody was invited: { $a } of { $b } lines need mending.
invite-one = Invite one
invite-act = Invite
invite-class = Invite a class
invite-class-act = Invite all of them
name-word = Name
role-label = Role
class-label = One line a person
class-how = Name, sign-in name, and a role where it is not student: Mira Okafor, mira.okafor. All of them are invited, or nobody.
class-line-cure = Write a name, a comma and a sign-in name, like Mira Okafor, mira.okafor.
class-role-cure = “{ $a }” is no role. Write student, instructor or administrator.
codes-title = Shown once
codes-said = Hand each person their code. It sets a password, and nobody sees it again here.
code-until = It opens until { $a }.
code-shown-before = The code was shown before. Start a reset for a new one.
role-said = It takes effect at once, also where the person is signed in.
change-account = Change the account
reset-said = A one-time code sets a new password. The old one works until it is used.
reset-act = Start a reset
disable-said = Disabling ends every session, and closes the API clients that this person answers for.
disable-act = Disable
enable-act = Let in again
libraries-title = Libraries
no-library = There is no library yet.
make-library = Make a library
what-for = What it is for
members-title = Members
no-members = Nobody is a member yet.
add-member = Add a member
add-act = Add
remove-act = Remove
remove-said = Removing somebody closes the recipes of this library to them at once.
change-library = Change the library
policy-title = Policy
policy-since = Version { $a }, in force since { $b }.
policy-stale = It changed while you wrote. What you typed stands below; put it in force once more to take the place of the newer version.
policy-faults = Nothing changed: fields need mending.
policy-weighing = Weighing
policy-off-by = A weighing may be off by
policy-tolerance = Tolerance in per cent
policy-active = of an active material or a preservative by
policy-active-tolerance = Tolerance of active materials in per cent
policy-reading = Reading
policy-holds = An acknowledgement holds
policy-days = Days that an acknowledgement holds
days-word = days.
policy-audiences = An instructor countersigns for, like pregnant, under:3y
policy-people = Two people
policy-second = An approval needs a second person
policy-clinic = The clinic
policy-notice = The notice on every page and label with a recipe
policy-zone = Time zone
policy-currency = Currency
policy-measures = Cups and spoons
policy-dating = Dating
policy-off = Rule sets that are switched off, one a line: key: reason
policy-why = Why it changes
policy-act = Put in force
clients-title = API clients
key-word = Key
key-once = Shown once. Copy it now.
key-shown-before = The key was shown before. Revoke it and make a new one.
never-used = never used
client-said = { $a } answers for it. { $b }. Key { $c }…
key-until = Good until { $a }.
revoke-act = Revoke
revoked-word = Revoked
no-clients = No tool has a key.
make-key = Make a key
tool-name = What the tool is
responsible-word = Who answers for it
may-do = What it may do
key-days = Days until it ends
events-title = Events
events-what = Show what
events-who = Who
anybody-word = anybody
events-did = did to
events-subject = The id of something
anything-word = anything
events-service = The service
events-none = Nothing happened.
journal-word = Journal
verify-now = Verify now

go-on-writing = Go on writing
decide-act = Decide about it
revise-act = Write a further revision
withdraw-title = Withdraw it
withdraw-why = Why
withdraw-said = Recipes of it, and of everything that contains it, close at once.
withdraw-act = Withdraw

## Materials

materials-title = Materials
any-name = Any name
changed-by-clinic = changed by the clinic
no-material = No material is called “{ $a }”.
fact-source = for all of these
merged-into = It was merged into another material.
version-number = Version { $a }
yes-word = yes
no-word = no
amend-act = Amend
amend-said = What makes it less cautious waits for a second instructor. Everything that contains it is worked out anew when the amendment holds.
amend-why = Why it changes
entry-constituents = Constituents, one a line: substance; least %; most %
entry-cautions = Cautions, one a line: level; audiences; text
entry-synonyms = Other names, one a line
entry-allergies = Allergy groups, one a line
import-title = Import a table
import-said = All rows are taken, or none. The table looks like the one that can be exported.
import-table = The table, as comma-separated values
import-act = Import
amendment-title = Amendment
amendment-state-awaiting-second-person = waits for a second instructor
amendment-state-in-force = in force
amendment-state-refused = refused
amendment-decided = Decided by { $a }, { $b }.
amendment-made = Made by { $a }, { $b }.
read-material = Read the material
confirm-act = Confirm
refuse-act = Refuse
reached-title = Whom it reaches
withheld-word = withheld
cautions-changed = cautions changed
reached-nothing = No formula contains it.

## Calculators

calculators-title = Calculators
calculator-word = calculator
other-calculators = Other calculators
calc-alcohol = Spirit and water
calc-say-alcohol = Make [wanted|How much] of [strength|What strength] from [stock|The spirit there is] spirit and water.
calc-alcohol-strength = Strength of a spirit
calc-say-alcohol-strength = A spirit of [by_volume|By volume] by volume, or [by_mass|By mass] by mass.
calc-hydrometer = A hydrometer reading
calc-say-hydrometer = The hydrometer reads [reading|Reading] at [temperature|Temperature].
calc-alcohol-mixture = Mixing spirits
calc-say-alcohol-mixture = Mix these: [streams|Amount and strength, one a line]
calc-extraction = Herb behind an extract
calc-say-extraction = How much dried herb is in [extract|How much extract] of an extract of [ratio|Ratio], [convention|How the ratio is meant]?
calc-herb-for-extract = Extract for a herb
calc-say-herb-for-extract = How much extract of [ratio|Ratio], [convention|How the ratio is meant], stands for [herb|How much herb] of dried herb?
calc-pressing = Pressing
calc-say-pressing = [herb|Herb] of herb in [menstruum|Menstruum] of menstruum gave [pressed|Pressed] when pressed.
calc-maceration = Macerating several times
calc-say-maceration = [herb|Herb] of herb, the marc keeping [retained|How many times its weight the marc keeps] times its weight, macerated with [turns|The menstruum of each turn, one a line]
calc-fresh-herb = Menstruum for a fresh herb
calc-say-fresh-herb = [herb|Herb] of fresh herb with [water|Its water] water in [menstruum|Menstruum] of menstruum, to be [wanted|Wanted strength] in the end.
calc-emulsion = HLB that oils require
calc-say-emulsion = For [emulsion|Type of emulsion] these oils require: [oils|Amount and oil, one a line]
calc-emulsifiers = HLB of emulsifiers
calc-say-emulsifiers = These emulsifiers together: [emulsifiers|Amount and emulsifier, one a line]
calc-emulsifier-blend = Blend of two emulsifiers
calc-say-emulsifier-blend = Of one of HLB [one|HLB of the one] and one of [other|HLB of the other], for HLB [target|Wanted HLB], [amount|How much] in all.
calc-weighing = Least that can be weighed
calc-say-weighing = On a balance that reads [readability|The balance reads], off by [error|Largest error] at most.
calc-aliquot = An aliquot
calc-say-aliquot = For [wanted|Wanted], where [least|Least] can be weighed and [aliquot|Aliquot] is taken.
calc-strength = Diluting a stock
calc-say-strength = Make [wanted|How much] of [strength|What strength] from a stock of [stock|Strength of the stock].
calc-alligation = Two strengths for a third
calc-say-alligation = Of [one|One strength] and [other|The other strength], make [amount|How much] of [wanted|Wanted strength].
calc-mixed-strength = Strength of a mixture
calc-say-mixed-strength = These together: [portions|Amount and strength, one a line]
calc-proportion = Proportion
calc-say-proportion = If [amount|How much] is in [whole|The whole], how much is in [part|The part]?
calc-limits = Limits on the skin
calc-say-limits = A cosmetic, [exposure|Leave-on or rinse-off], for [youngest|The youngest, empty for adults] on [site|Part of the body, empty for any], of [lines|Amount and material, one a line]
calc-use-by = Use-by date
calc-say-use-by = A [preparation|Kind of preparation] made on [made_on|Day of making], kept in a [storage|How it is kept].
calc-cost = Cost
calc-say-cost = For [containers|How many jars] jars: [draws|Name; quantity; price; per, one a line]
calc-dose = What one application brings
calc-say-dose = A [preparation|Kind of preparation], [mass|How much at once] at once, [times_a_day|How often a day] times a day, of [lines|Amount and material, one a line]
calc-units = Another unit
calc-say-units = [quantity|How much] of [material|Material] in [to|The other unit], at [density|Density, empty where the material is known].
