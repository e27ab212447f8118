"""plafond: supported, held and ruled-out keyhole procedures of the foot and ankle, with reasons.

The rooms, in the order a document passes through them:

    intake      a document -> Findings; knows no rule
    rulebook    knowledge files and releases -> Rulebook; knows no patient
    inference   Findings under a Rulebook -> a truth for every rule; knows no web
    assessment  truths -> what wins, what is open, what to ask
    pipeline    the four above in a row; read it first
    views       an Assessment -> REST answers, a terminal page
    storage     keeps coded findings and digests; gives an assessment back
    governance  checks the knowledge; nothing in the flow imports it
"""
