"""The REST surface: routes for assessments, look-ups of the knowledge, problems, OpenAPI.

Takes requests, hands them to the desk, gives canonical JSON or problem details.
"""
